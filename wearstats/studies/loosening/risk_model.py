"""The chance of working loose of a hub not yet sent, by what is known of the gap it would leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.posterior import FitDraws
from wearstats.analysis.loosening.predictor import LooseningLaw
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.loosening.remarks import LooseningStudyRemark

AS_SUPPLIED, DUTY = "sent as supplied", "duty "
"""Names of what is held beside the gap."""

FEWEST_FAILURES = 5
"""Failures with a known gap below which no chance is foretold: the penalties would speak, not the record."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiskModel:
    """The law to foretell with, or why there is none.

    Parameters
    ----------
    law : LooseningLaw or None
        The law.
    largest_um : float
        Largest gap on record.
    followed_months : float
        How long any hub was followed.
    why_not : Remark or None
        Why there is no law.
    """

    law: LooseningLaw | None
    largest_um: float = 0.0
    followed_months: float = 0.0
    why_not: Remark | None = None

    def risks(
        self, draws: FitDraws, *, method: str, duty: str | None, months: tuple[float, ...], rng: np.random.Generator
    ) -> tuple[tuple[float, Estimate], ...]:
        """Foretell the chance by some months for a hub that would leave these gaps.

        Parameters
        ----------
        draws : FitDraws
            What it would leave, shape (draws,).
        method, duty : str
            How it is to be fitted, and what the engine does (None where not said).
        months : tuple of float
            When.
        rng : Generator
            For the law's parameters.
        """
        law = self.law
        if law is None:
            return tuple((month, Estimate(value=None, method=self.why_not, status="none")) for month in months)
        beside = law.covariate_means.copy()
        for index, name in enumerate(law.names):
            if name == AS_SUPPLIED:
                beside[index] = float(method == "as-supplied")
            elif duty is not None:
                beside[index] = float(name == DUTY + duty)
        gap = draws.gap_left_um
        risks = law.risk_draws(gap, beside, np.array(months), rng=rng)
        return tuple(
            (month, self._estimate(risks[:, index], float(gap.mean()), month)) for index, month in enumerate(months)
        )

    def _estimate(self, risks: np.ndarray[tuple[int], np.dtype[np.float64]], gap_um: float, month: float) -> Estimate:
        if gap_um > self.largest_um:
            why = remark(LooseningStudyRemark.GAP_BEYOND_RECORD, largest_um=self.largest_um)
            return Estimate(value=None, method=why, status="beyond-data")
        if month > self.followed_months:
            why = remark(LooseningStudyRemark.TIME_BEYOND_RECORD)
            return Estimate(value=None, method=why, status="beyond-data")
        low, high = np.quantile(risks, [0.025, 0.975])
        return Estimate(
            value=float(risks.mean()),
            low=float(low),
            high=float(high),
            method=remark(LooseningStudyRemark.OF_HUB),
        )
