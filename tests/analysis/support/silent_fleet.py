"""A second, plain simulator of fittings followed up: it knows nothing of shafts' widths, gaps or the store."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import FloatArray


@dataclass(frozen=True, kw_only=True)
class SilentFleet:
    """What is true of the fleet; risks by month 12, times in months."""

    fittings: int = 400
    risk_supplied: float = 0.15
    risk_hand: float = 0.08
    shape: float = 1.4
    reported: float = 0.6
    silent_share: float = 0.3
    asked_every: float = 6.0
    removed_a_month: float = 0.006
    span: float = 36.0
    per_shaft: int = 1
    shaft_spread: float = 0.0  # standard deviation of the log hazard between shafts

    def draw(self, rng: np.random.Generator) -> pd.DataFrame:
        """Histories as they become known, with the columns of the histories' frame."""
        n = self.fittings
        shaft = np.arange(n) // self.per_shaft
        supplied = rng.random(n) < 0.5
        shared = self.shaft_spread * rng.standard_normal(shaft.max() + 1)[shaft]
        risk = np.where(supplied, self.risk_supplied, self.risk_hand)
        return self.follow(risk, np.exp(shared), supplied, shaft, rng=rng)

    def follow(
        self,
        risk: FloatArray,
        ratio: FloatArray,
        supplied: NDArray[np.bool_],
        shaft: NDArray[np.int64],
        *,
        age: FloatArray | None = None,
        rng: np.random.Generator,
    ) -> pd.DataFrame:
        """Let fittings run whose risk by month 12 and hazard ratio are given, and follow them up."""
        n = risk.size
        scale = -np.log1p(-risk) / 12**self.shape
        fails = (rng.standard_exponential(n) / (scale * ratio)) ** (1 / self.shape)
        leaves = rng.standard_exponential(n) / self.removed_a_month
        if age is None:
            age = rng.uniform(0, self.span, n)
        answers = rng.random(n) >= self.silent_share
        asked = np.cumsum(self.asked_every * rng.uniform(0.5, 1.5, (n, 12)), axis=1)
        asked = np.where((asked <= age[:, None]) & answers[:, None] & (rng.random((n, 12)) > 0.1), asked, np.inf)
        end = np.minimum(fails, leaves)
        flanks = fails < leaves
        tells = rng.random(n) < np.where(flanks, self.reported, 0.8)
        report = np.where(tells, end + np.minimum(rng.standard_exponential(n) * 0.2, 1.0), np.inf)
        report = np.where(report <= age, report, np.inf)
        found = np.where(asked >= end[:, None], asked, np.inf).min(axis=1)
        seen = np.minimum(report, found)
        unasked = report <= found
        last = np.where((asked < end[:, None]) & (asked < seen[:, None]), asked, 0.0).max(axis=1)
        failed, left = np.isfinite(seen) & flanks, np.isfinite(seen) & ~flanks
        after = np.where(unasked, np.maximum(last, seen - 1.0), last)
        outcome = np.select([failed, left, last > 0], ["failed", "removed", "running"], default="no-word")
        ended = np.where(unasked, seen, (last + np.where(left, seen, 0.0)) / 2)
        middle = (after + np.where(failed, seen, 0.0)) / 2
        method = np.where(supplied, "as-supplied", "owner-fitted")
        silent = ~failed & ~left
        return pd.DataFrame(
            {
                "shaft": shaft.astype(str),
                "pattern": "D8",
                "duty": "daily",
                "method_sent": method,
                "method_done": method,
                "age_months": age,
                "entry_months": 0.0,
                "last_tight_months": last,
                "failed_after_months": np.where(failed, after, np.nan),
                "first_bad_months": np.where(failed, seen, np.inf),
                "observed_months": np.select([failed, left], [middle, ended], default=last),
                "silent_since_months": np.where(silent, last, np.nan),
                "silent_until_months": np.where(silent, age, np.nan),
                "outcome": outcome,
                "prompted": pd.Series(np.where(unasked, "unasked", "asked")).where(~silent),
            }
        )
