"""Fittings whose method hangs on the wear read, so that a plain comparison is wrong by a known amount."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from tests.analysis.support.silent_fleet import SilentFleet
from wearstats.domain.arrays import BoolArray, FloatArray


@dataclass(frozen=True, kw_only=True)
class WornFleet:
    """What is true; the follow-up is that of a silent fleet.

    Less worn shafts and older fittings get hubs as supplied more often; worn shafts fail more under either method.
    """

    fittings: int = 500
    risk_hand: float = 0.06  # by month 12, at mean wear
    log_ratio_supplied: float = 0.7
    log_ratio_per_10_um: float = 0.25
    log_odds_per_10_um: float = -0.3
    log_odds_early: float = 1.0
    mean_um: float = 32.0
    reading_sd_um: float = 7.0
    chosen_on_truth: bool = False  # on the wear itself, which nobody wrote down
    follow_up: SilentFleet = field(default_factory=SilentFleet)

    def draw(self, rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame, BoolArray]:
        """Histories, covariates as they stood at the choice, and which were sent as supplied."""
        n = self.fittings
        shaft = np.arange(n) // self.follow_up.per_shaft
        wear = self._wear(rng, int(shaft.max()) + 1)[shaft]
        age = rng.uniform(0, self.follow_up.span, n)
        read = wear + self.reading_sd_um * rng.standard_normal(n)
        early = age > self.follow_up.span / 2
        seen = wear if self.chosen_on_truth else read
        odds = self.log_odds_per_10_um * (seen - self.mean_um) / 10 + self.log_odds_early * (early - 0.5)
        supplied = rng.random(n) < 1 / (1 + np.exp(-odds))
        duty = rng.integers(3, size=n)
        frame = self.follow_up.follow(
            np.full(n, self.risk_hand), self._ratio(wear, supplied), supplied, shaft, age=age, rng=rng
        )
        half_year = np.ceil(self.follow_up.span / 6) - np.ceil(age / 6)
        covariates = pd.DataFrame({"read_um": read, "daily": duty == 1, "continuous": duty == 2})
        for period in range(1, int(half_year.max()) + 1):
            covariates[f"half-year {period}"] = half_year == period
        return frame, covariates.astype(float), supplied

    def risks(self, months: float = 12.0) -> tuple[float, float]:
        """True risks by a month, had all been sent as supplied, or all by hand."""
        wear = self._wear(np.random.default_rng(0), 400_000)
        total = -np.log1p(-self.risk_hand) * (months / 12) ** self.follow_up.shape
        supplied, hand = (
            float(np.mean(-np.expm1(-total * self._ratio(wear, np.full(wear.size, way))))) for way in (True, False)
        )
        return supplied, hand

    def _wear(self, rng: np.random.Generator, shafts: int) -> FloatArray:
        return np.asarray(rng.gamma(2.0, self.mean_um / 2, shafts), dtype=float)

    def _ratio(self, wear: FloatArray, supplied: BoolArray) -> FloatArray:
        at_wear = self.log_ratio_per_10_um * (wear - self.mean_um) / 10
        return np.asarray(np.exp(at_wear + self.log_ratio_supplied * supplied), dtype=float)
