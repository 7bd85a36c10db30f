"""Watching a rare event: whether it is more, or less, than the model expected.

*Risk-adjusted cumulative sum* [1]_. Every hub has its own chance p of being reported loose in a quarter, foretold
before the quarter. For odds R times as high a hub that fails adds ``log R - log(1 + (R - 1) p)`` and one that does not
``- log(1 + (R - 1) p)``; the sum is never let under 0, and a signal is a sum over the limit. The limit is set for a
mean time between false alarms (`wearstats.analysis.monitoring.average_run_length`). The change began after the sum was
last at 0.

Failures in all over failures foretold are in `wearstats.analysis.monitoring.observed_expected`.

*Time between failures.* Measured in failures expected, the wait for the next is exponential with mean 1 while nothing
has changed.

References
----------
.. [1] S. H. Steiner, R. J. Cook, V. T. Farewell, T. Treasure, Monitoring surgical performance using risk-adjusted
   cumulative sum charts, Biostatistics 1 (2000) 441-452.
.. [2] L. S. Nelson, A control chart for parts-per-million nonconforming items, J. Qual. Technol. 26 (1994) 239-240.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray, IntArray

NELSON_POWER = 0.2777
_D2 = 1.128


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


def binary_scores(risk: FloatArray, odds_ratio: float) -> tuple[FloatArray, FloatArray]:
    """Give what a hub adds that does not fail, and one that does [1]_; shape of `risk`."""
    stays = -np.log1p((odds_ratio - 1.0) * np.asarray(risk, dtype=float))
    return np.asarray(stays), np.asarray(stays + np.log(odds_ratio))


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WaitChart:
    """Waits between failures, made nearly normal.

    Parameters
    ----------
    value : ndarray, shape (waits,)
        Waits to the power 1 / 3.6 [2]_.
    centre, low, high : float
        Their mean and the limits of individual values.
    outside : ndarray of int
        Which lie outside.
    """

    value: FloatArray
    centre: float
    low: float
    high: float
    outside: IntArray


def wait_chart(waits: FloatArray) -> WaitChart:
    """Chart waits without a model: each against the limits that all of them set [2]_.

    Parameters
    ----------
    waits : ndarray, shape (waits,)
        At least two, above 0, in any unit.
    """
    value = np.power(np.asarray(waits, dtype=float), NELSON_POWER)
    centre, reach = float(value.mean()), 3.0 * float(np.abs(np.diff(value)).mean()) / _D2
    outside = np.flatnonzero(np.abs(value - centre) > reach)
    return WaitChart(value=value, centre=centre, low=centre - reach, high=centre + reach, outside=outside)
