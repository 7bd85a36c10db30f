"""The chance of working loose of a hub not yet sent, by what is known of the gap it would leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate, widened_interval
from wearstats.analysis.gaps.posterior import FitDraws
from wearstats.analysis.loosening.predictor import LooseningLaw
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.studies.loosening.remarks import LooseningStudyRemark

AS_SUPPLIED, DUTY = "sent as supplied", "duty "
"""Names of what is held beside the gap."""

FEWEST_FAILURES = 5
"""Failures with a known gap below which no chance is predicted: the penalties would speak, not the record."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiskModel:
    """The law to predict with, or why there is none.

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

    def covariates(self, *, method: str, duty: str | None) -> FloatArray:
        """Give what is held beside the gap, shape (effects,), in the order of the law's names; means where not said.

        Parameters
        ----------
        method, duty : str
            How the hub is to be fitted, and what the engine does (None where not said).
        """
        if self.law is None:
            return np.zeros(0)
        beside = self.law.covariate_means.copy()
        for index, name in enumerate(self.law.names):
            if name == AS_SUPPLIED:
                beside[index] = float(method == "as-supplied")
            elif duty is not None:
                beside[index] = float(name == DUTY + duty)
        return np.asarray(beside)

    @property
    def size(self) -> int:
        """How many parameters the law has; 0 without one."""
        return 0 if self.law is None else int(self.law.parameters.size)

    def draws(
        self, fit: FitDraws, *, method: str, duty: str | None, months: float, normal: FloatArray
    ) -> tuple[FloatArray | None, Remark | None, bool]:
        """Draw the chance by some months for a hub that would leave these gaps.

        Parameters
        ----------
        fit : FitDraws
            What it would leave, shape (draws,).
        method, duty : str
            How it is to be fitted, and what the engine does (None where not said).
        months : float
            When.
        normal : ndarray, shape (draws, `size`)
            Standard normal numbers for the law's parameters.

        Returns
        -------
        ndarray of shape (draws,) or None, Remark or None, bool
            The chance; why there is none; whether that is because such gaps, or so long a time, are beyond the record.
        """
        if self.law is None:
            return None, self.why_not, False
        if (beyond := self._beyond(float(fit.gap_left_um.mean()), months)) is not None:
            return None, beyond, True
        beside = self.covariates(method=method, duty=duty)
        return self.law.risk_draws(fit.gap_left_um, beside, np.array([months]), normal=normal)[:, 0], None, False

    def risks(
        self, fit: FitDraws, *, method: str, duty: str | None, months: tuple[float, ...], normal: FloatArray
    ) -> tuple[tuple[float, Estimate], ...]:
        """Predict the chance by some months for a hub that would leave these gaps; as `draws`."""
        if self.law is None:
            return tuple((month, Estimate(value=None, method=self.why_not, status="none")) for month in months)
        beside, gap = self.covariates(method=method, duty=duty), fit.gap_left_um
        risks = self.law.risk_draws(gap, beside, np.array(months), normal=normal)
        return tuple(
            (month, self._estimate(risks[:, index], float(gap.mean()), month)) for index, month in enumerate(months)
        )

    def _beyond(self, gap_um: float, month: float) -> Remark | None:
        if gap_um > self.largest_um:
            return remark(LooseningStudyRemark.GAP_BEYOND_RECORD, largest_um=self.largest_um)
        return remark(LooseningStudyRemark.TIME_BEYOND_RECORD) if month > self.followed_months else None

    def _estimate(self, risks: FloatArray, gap_um: float, month: float) -> Estimate:
        if (beyond := self._beyond(gap_um, month)) is not None:
            return Estimate(value=None, method=beyond, status="beyond-data")
        low, high, _ = widened_interval(risks, risks.mean())
        return Estimate(
            value=float(risks.mean()),
            low=float(low),
            high=float(high),
            method=remark(LooseningStudyRemark.OF_HUB),
        )
