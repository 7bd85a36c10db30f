"""Risk-adjusted sums with a limit for every step, so that false alarms come equally often however a fleet grows.

A single limit has to be set for one number of failures expected, and a fleet that grows would move it: an alarm of two
years ago would come or go with the hubs sold since. Here the law of the sum is followed step by step while nothing has
changed, given that no alarm went yet, and each step's limit is the least one that it passes with no more than the
chance wanted [1]_. A limit hangs on what was expected up to its own step and on nothing later. After an alarm the sum
starts again from 0.

What is expected is known to a mean and a variance over the draws of the law that predicted it; a step's count is then
negative binomial, given all that came before (`wearstats.analysis.monitoring.observed_expected` says why the steps'
doubts stand by themselves).

References
----------
.. [1] X. Zhang, W. H. Woodall, Dynamic probability control limits for risk-adjusted Bernoulli CUSUM charts, Statistics
   in Medicine 34 (2015) 3336-3348 (from memory; there by simulation, here on a grid).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy

from wearstats.analysis.monitoring.observed_expected import SUREST
from wearstats.domain.arrays import FloatArray, IntArray

_FINE, _REACH = 100, 15
"""Grid points in one standard deviation of a step, and how many such deviations the grid reaches."""
_RAREST = 1e-12
_SAME = 1e-9
"""Sums nearer than that are one."""
_EXACT = 1500
"""So many sums are kept as they are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm.

    Parameters
    ----------
    step : int
        When.
    since : int
        First step after the sum was last at 0.
    ratio : float
        Seen over expected from then on.
    """

    step: int
    since: int
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MovingSum:
    """A sum, its limits, and the alarms.

    Parameters
    ----------
    value, limit : ndarray, shape (steps,)
        The sum after each step, before it starts again; and from where it is an alarm.
    chance : ndarray, shape (steps,)
        Of a false alarm at each step, given that none had gone since the last start.
    alarms : tuple of Alarm
        In order.
    """

    value: FloatArray
    limit: FloatArray
    chance: FloatArray
    alarms: tuple[Alarm, ...]

    @property
    def false_alarm_steps(self) -> float:
        """Mean number of steps between false alarms; infinite where none can come."""
        mean = float(self.chance.mean()) if self.chance.size else 0.0
        return 1.0 / mean if mean > 0 else float("inf")


def watch_with_moving_limits(
    seen: FloatArray,
    expected: FloatArray,
    discount: FloatArray,
    *,
    doubt: FloatArray | None = None,
    odds_ratio: float,
    wanted: float,
) -> MovingSum:
    """Run the sum.

    Parameters
    ----------
    seen, expected : ndarray, shape (steps,)
        Failures, and failures expected.
    discount : ndarray, shape (steps,)
        Sum of what the hubs add that do not fail, of all hubs (`wearstats.analysis.monitoring.cusum.binary_scores`).
    doubt : ndarray, shape (steps,), optional
        Variance of what was expected, over the draws of the law; none where the law is exact.
    odds_ratio : float
        Which change is looked for, above 1.
    wanted : float
        Steps between false alarms, above 1; never fewer, and more where counts are lumpy.
    """
    doubt = np.zeros(len(seen)) if doubt is None else doubt
    law = _Law(odds_ratio, float(np.max(expected + doubt, initial=0.0)))
    value, limit, chance = (np.empty(len(seen)) for _ in range(3))
    alarms: list[Alarm] = []
    total, since = 0.0, 0
    for step in range(len(seen)):
        limit[step], chance[step] = law.step(
            float(expected[step]), float(doubt[step]), float(discount[step]), 1.0 / wanted
        )
        # where the sum last left 0 is the likeliest beginning of a change (Page, Biometrika 41, 1954)
        if total <= 0.0:
            since = step
        total = max(total + float(seen[step]) * law.gain + float(discount[step]), 0.0)
        value[step] = total
        if total >= limit[step]:
            span = slice(since, step + 1)
            ratio = float(seen[span].sum() / max(float(expected[span].sum()), 1e-12))
            alarms.append(Alarm(step=step, since=since, ratio=ratio))
            # limits for what lies beyond an alarm would take the alarm for chance
            total = 0.0
            law.start()
    return MovingSum(value=value, limit=limit, chance=chance, alarms=tuple(alarms))


class _Law:
    """The law of the sum while nothing has changed and no alarm has gone: sums that are possible, and their chances.

    The likeliest sums are kept as they are, for limits lie between them; the others are shared out on a grid.
    """

    def __init__(self, odds_ratio: float, largest: float) -> None:
        self.gain = float(np.log(odds_ratio))
        deviation = self.gain * max(1.0, float(np.sqrt(largest)))
        self.grid = np.linspace(0.0, _REACH * deviation, _REACH * _FINE + 1)
        self.start()

    def start(self) -> None:
        """Begin at 0."""
        self.sums, self.chance = np.zeros(1), np.ones(1)

    def step(self, expected: float, doubt: float, discount: float, wanted: float) -> tuple[float, float]:
        """Go one step; give the least limit passed with no more than the chance wanted, and that chance."""
        count, likely = _counts(expected, doubt)
        reached = np.maximum(self.sums[:, None] + count * self.gain + discount, 0.0)
        sums, chance = _merged(reached.ravel(), (self.chance[:, None] * likely).ravel())
        beyond = np.cumsum(chance[::-1])[::-1]
        allowed = np.flatnonzero(beyond <= wanted)
        first = int(allowed[0]) if allowed.size else sums.size
        limit = sums[first] - _SAME / 2 if first < sums.size else sums[-1] + _SAME
        self.sums, self.chance = self._fewer(sums[:first], chance[:first] / chance[:first].sum())
        return float(limit), float(beyond[first]) if first < sums.size else 0.0

    def _fewer(self, sums: FloatArray, chance: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Keep the likeliest sums, and share the others out between grid points."""
        if sums.size <= _EXACT:
            return sums, chance
        rare = np.argsort(-chance, kind="stable")[_EXACT:]
        kept = np.delete(np.arange(sums.size), rare)
        last = self.grid.size - 1
        place = np.minimum(sums[rare] / self.grid[1], last)
        below = np.minimum(place.astype(np.int64), last - 1)
        share = place - below
        shared = np.bincount(below, chance[rare] * (1.0 - share), self.grid.size)
        shared += np.bincount(below + 1, chance[rare] * share, self.grid.size)
        some = shared > 0
        return _merged(np.append(sums[kept], self.grid[some]), np.append(chance[kept], shared[some]))


def _counts(expected: float, doubt: float) -> tuple[IntArray, FloatArray]:
    """Give the counts that are possible, and their chances."""
    size = expected**2 / doubt if doubt > expected**2 / SUREST else np.inf
    law = scipy.stats.poisson(expected) if np.isinf(size) else scipy.stats.nbinom(size, size / (size + expected))
    count = np.arange(int(law.ppf(1.0 - _RAREST)) + 2)
    return count, np.asarray(law.pmf(count), dtype=float)


def _merged(sums: FloatArray, chance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Put equal sums together; sorted."""
    order = np.argsort(sums, kind="stable")
    sums, chance = sums[order], chance[order]
    new = np.append(True, np.diff(sums) > _SAME)
    return sums[new], np.asarray(np.bincount(np.cumsum(new) - 1, chance), dtype=float)
