"""Fittings with known gaps and times, drawn plainly: for checking what is said of the law, not how gaps are known."""

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.gaps.nodes import GapNodes, reduce_draws
from wearstats.analysis.survival.reporting import SilentHistories


@dataclass(frozen=True, kw_only=True)
class GapFleet:
    """What is true; gaps in um, times in months."""

    fittings: int = 600
    slope_per_10um: float = 0.6
    threshold_um: float = 0.0
    risk_at_no_gap: float = 0.03
    shape: float = 1.4
    reported: float = 0.6
    doubt_um: float = 5.0
    supplied_log_hazard: float = 0.0
    supplied_gap_um: float = 10.0

    def draw(self, rng: np.random.Generator) -> tuple[SilentHistories, GapNodes, np.ndarray]:
        """Give the histories, what is known of the gaps, and which were sent as supplied."""
        n = self.fittings
        supplied = rng.random(n) < 0.5
        known = np.maximum(rng.gamma(2.0, 8.0, n) + np.where(supplied, self.supplied_gap_um, 0.0), 3 * self.doubt_um)
        gap = known + self.doubt_um * rng.standard_normal(n)
        hazard = -np.log1p(-self.risk_at_no_gap) * np.exp(
            self.slope_per_10um * np.maximum(gap - self.threshold_um, 0.0) / 10 + self.supplied_log_hazard * supplied
        )
        fails = 12 * (rng.standard_exponential(n) / hazard) ** (1 / self.shape)
        age = rng.uniform(6, 36, n)
        asked = np.floor(age / 6) * 6 * (rng.random(n) < 0.7)
        known_failed = fails <= asked
        tells = (fails < age) & (rng.random(n) < self.reported)
        visit = np.ceil(fails / 6) * 6
        unasked = tells
        failed = tells | (known_failed & ~tells)
        last = np.where(failed, np.floor(fails / 6) * 6 * (asked > 0), asked)
        right = np.where(unasked, fails + 0.2, np.where(failed, visit, np.inf))
        left = np.where(unasked, np.maximum(last, fails - 0.8), last)
        histories = SilentHistories(
            left=np.where(failed, left, age),
            right=right,
            entry=np.zeros(n),
            silent_from=np.where(failed | (asked >= age), np.nan, asked),
            last_word=np.where(failed, right, asked),
            failed=failed,
            unasked=unasked,
            asked=failed & ~unasked,
            shaft=np.arange(n),
        )
        draws = known[:, None] + self.doubt_um * rng.standard_normal((n, 320))
        return histories, reduce_draws(np.maximum(draws, 0.0), histories.shaft), supplied
