"""The chance of working loose of a hub not yet sent, by what is known of the gap it would leave."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.clearance import FitDraws
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening import LooseningFit
from wearstats.store.connection import Store
from wearstats.studies.fitted_widths import FittedWidths
from wearstats.studies.gap_fittings import AS_SUPPLIED
from wearstats.studies.store_gap_risk import law_of_store

FEWEST_FAILURES = 5
"""Failures with a known gap below which no chance is foretold: the penalties would speak, not the record."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiskModel:
    """The law to foretell with, or why there is none.

    Parameters
    ----------
    fit : LooseningFit or None
        The law.
    largest_um : float
        Largest gap on record.
    followed_months : float
        How long any hub was followed.
    why_not : str
        Why there is no law.
    """

    fit: LooseningFit | None
    largest_um: float = 0.0
    followed_months: float = 0.0
    why_not: str = ""

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
        fit = self.fit
        if fit is None:
            return tuple((month, no_estimate(self.why_not)) for month in months)
        beside = fit.covariate_means.copy()
        for index, name in enumerate(fit.names):
            if name == AS_SUPPLIED:
                beside[index] = float(method == "as-supplied")
            elif duty is not None:
                beside[index] = float(name == f"duty {duty}")
        gap = draws.gap_left_um
        risks = fit.risk_draws(gap, beside, np.array(months), rng=rng)
        return tuple(
            (month, self._estimate(risks[:, index], float(gap.mean()), month)) for index, month in enumerate(months)
        )

    def _estimate(self, risks: np.ndarray[tuple[int], np.dtype[np.float64]], gap_um: float, month: float) -> Estimate:
        if gap_um > self.largest_um or month > self.followed_months:
            what = f"gaps up to {self.largest_um:.0f} um" if gap_um > self.largest_um else "so long a time"
            return Estimate(value=None, method=f"beyond the record, which holds {what}", status="beyond-data")
        low, high = np.quantile(risks, [0.025, 0.975])
        return Estimate(
            value=float(risks.mean()),
            low=float(low),
            high=float(high),
            method="law of working loose on the gap this hub would leave, doubt of gap and law together",
        )


def fit_risk_model(store: Store, *, as_of: datetime.date, fitted: FittedWidths, rng: np.random.Generator) -> RiskModel:
    """Fit the law to all fittings on record.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    fitted : FittedWidths
        The width model of all shafts.
    rng : Generator
        For the gaps.

    Returns
    -------
    RiskModel
    """
    known = law_of_store(store, as_of=as_of, fitted=fitted, rng=rng)
    return RiskModel(fit=None, why_not=known.why_not) if known.law is None else model_of(known.law)


def model_of(fit: LooseningFit) -> RiskModel:
    """Take a fitted law, if it rests on failures enough."""
    if fit.failures < FEWEST_FAILURES:
        why = f"only {fit.failures} failures with a known gap are on record; {FEWEST_FAILURES} are needed"
        return RiskModel(fit=None, why_not=why)
    followed = max(float(fit.data.last_word.max()), float(np.max(fit.data.right, initial=0.0)))
    return RiskModel(fit=fit, largest_um=float(np.quantile(fit.gaps_um, 0.99)), followed_months=followed)
