"""A risk-adjusted cumulative sum with one limit for all steps, beside which moving limits are checked.

References
----------
.. [1] S. H. Steiner, R. J. Cook, V. T. Farewell, T. Treasure, Monitoring surgical performance using risk-adjusted
   cumulative sum charts, Biostatistics 1 (2000) 441-452.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CumulativeSum:
    """A cumulative sum and what it signals.

    Parameters
    ----------
    value : ndarray, shape (steps,)
        The sum after every step.
    limit : float
        From where it is a signal.
    signal : int or None
        First step at or over the limit.
    since : int or None
        First step after the sum was last at 0 before the signal.
    ratio : float or None
        Seen over expected from then to the signal.
    """

    value: FloatArray
    limit: float
    signal: int | None
    since: int | None
    ratio: float | None


def cumulate(scores: FloatArray) -> FloatArray:
    """Add up and never fall under 0; shape (steps,)."""
    total = np.cumsum(scores)
    return np.asarray(total - np.minimum(np.minimum.accumulate(total), 0.0))


def watch(
    seen: FloatArray, expected: FloatArray, discount: FloatArray, *, odds_ratio: float, limit: float
) -> CumulativeSum:
    """Run the risk-adjusted sum over steps in which many hubs were watched.

    Parameters
    ----------
    seen, expected : ndarray, shape (steps,)
        Failures, and failures expected.
    discount : ndarray, shape (steps,)
        Sum of what the hubs add that do not fail, of all hubs.
    odds_ratio : float
        Which change is looked for.
    limit : float
        From where it is a signal.

    Returns
    -------
    CumulativeSum
    """
    value = cumulate(seen * np.log(odds_ratio) + discount)
    over = np.flatnonzero(value >= limit)
    if over.size == 0:
        return CumulativeSum(value=value, limit=limit, signal=None, since=None, ratio=None)
    signal = int(over[0])
    at_zero = np.flatnonzero(value[:signal] <= 1e-12)
    since = int(at_zero[-1]) + 1 if at_zero.size else 0
    span = slice(since, signal + 1)
    ratio = float(seen[span].sum() / max(expected[span].sum(), 1e-12))
    return CumulativeSum(value=value, limit=limit, signal=signal, since=since, ratio=ratio)


def waiting_limits(*, outside: float = 0.0027) -> tuple[float, float]:
    """Give the wait, in failures expected, that is shorter and the one that is longer than chance allows."""
    return float(-np.log1p(-outside / 2)), float(-np.log(outside / 2))
