"""Curves still tight over time, when the times are known: Kaplan-Meier with delayed entry.

A fitting known only from a later date (``start``) is at risk from just after it: at a failure time t the risk set is
``start < t <= stop``. Failures at a time come before those lost from sight at the same time.

Fittings of one shaft may fail together. Where shafts are given (``cluster``), the variances are sums over shafts of
what each adds to the estimate (the infinitesimal jackknife), not over fittings.

References
----------
.. [1] J. P. Klein, M. L. Moeschberger, Survival Analysis, 2nd ed., Springer 2003, sections 4.2, 4.3 and 4.6.
.. [2] T. M. Therneau, P. M. Grambsch, Modeling Survival Data, Springer 2000, section 3.7 (delayed entry).
.. [3] Z. Ying, L. J. Wei, The Kaplan-Meier estimate for dependent failure time observations, J. Multivar. Anal. 50
   (1994) 17-29 (the variance by clusters).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import special

from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KaplanMeierCurve:
    """The share still tight, a step at every time of failure.

    Parameters
    ----------
    months : ndarray, shape (steps,)
        Distinct times of failure, ascending.
    still_tight : ndarray, shape (steps,)
        Share still tight just after each.
    std_error : ndarray, shape (steps,)
        Greenwood's standard error of it, or that by shafts [3]_.
    low, high : ndarray, shape (steps,)
        Pointwise interval on the complementary log-log scale, which stays between 0 and 1 ([1]_, equation 4.3.2).
    at_risk, failures : ndarray, shape (steps,)
        At risk just before, and failed at, each time.
    level : float
        Coverage meant.
    """

    months: FloatArray
    still_tight: FloatArray
    std_error: FloatArray
    low: FloatArray
    high: FloatArray
    at_risk: FloatArray
    failures: FloatArray
    level: float

    def at(self, months: ArrayLike) -> FloatArray:
        """Give the share still tight just after the given times, shape as given; 1.0 before the first failure."""
        index = np.searchsorted(self.months, np.asarray(months, dtype=float), side="right")
        return np.append(1.0, self.still_tight)[index]

    def to_frame(self) -> pd.DataFrame:
        """Give a row a step, with a first row at month 0."""
        return pd.DataFrame(
            {
                "months": np.append(0.0, self.months),
                "still_tight": np.append(1.0, self.still_tight),
                "low": np.append(1.0, self.low),
                "high": np.append(1.0, self.high),
            }
        )


def numbers_at_risk(
    stop: ArrayLike, months: ArrayLike, *, start: ArrayLike | None = None, weight: ArrayLike | None = None
) -> FloatArray:
    """Count the fittings under observation at given times.

    Parameters
    ----------
    stop : array_like, shape (fittings,)
        Months to failure or to the last word.
    months : array_like, shape (times,)
        Times asked for; a fitting counts when ``start < t <= stop``, and all that start at 0 count at 0.
    start : array_like, shape (fittings,), optional
        Month from which the fitting is known; 0 by default.
    weight : array_like, shape (fittings,), optional
        How many fittings each row stands for; 1 by default.

    Returns
    -------
    ndarray, shape (times,)
    """
    times = np.asarray(months, dtype=float)
    stops = np.asarray(stop, dtype=float)
    weights = None if weight is None else np.asarray(weight, dtype=float)
    leaving = _weight_below(stops, weights, times, later=False)
    if start is None:
        return np.asarray((stops.size if weights is None else weights.sum()) - leaving, dtype=float)
    starts = np.asarray(start, dtype=float)
    entered = _weight_below(starts, weights, times, later=False)
    if bool(np.any(times <= 0)):
        entered = np.where(times <= 0, _weight_below(starts, weights, times, later=True), entered)
    return np.asarray(entered - leaving, dtype=float)


def _weight_below(values: FloatArray, weights: FloatArray | None, times: FloatArray, *, later: bool) -> FloatArray:
    """Sum the weights of the values below each time, or (`later`) not above it."""
    side: Literal["left", "right"] = "right" if later else "left"
    if weights is None:
        return np.asarray(np.searchsorted(np.sort(values), times, side=side), dtype=float)
    order = np.argsort(values)
    total = np.append(0.0, np.cumsum(weights[order]))
    return np.asarray(total[np.searchsorted(values[order], times, side=side)], dtype=float)


def fit_kaplan_meier(
    stop: ArrayLike,
    failed: ArrayLike,
    *,
    start: ArrayLike | None = None,
    weight: ArrayLike | None = None,
    cluster: ArrayLike | None = None,
    level: float = 0.95,
) -> KaplanMeierCurve:
    """Estimate the share still tight from times that are known.

    Parameters
    ----------
    stop : array_like, shape (fittings,)
        Months to failure or to the last word.
    failed : array_like of bool, shape (fittings,)
        Whether it failed then.
    start : array_like, shape (fittings,), optional
        Month from which it is known, below `stop`; 0 by default.
    weight : array_like, shape (fittings,), optional
        How many fittings each row stands for; 1 by default.
    cluster : array_like, shape (fittings,), optional
        Shaft of each row; the variance is then that by shafts.
    level : float
        Coverage of the pointwise interval.

    Returns
    -------
    KaplanMeierCurve

    Raises
    ------
    AnalysisError
        Without fittings, or where one stops no later than it starts.
    """
    stops, fails, starts = _checked(stop, failed, start)
    weights = None if weight is None else np.asarray(weight, dtype=float)
    times, deaths = _failures(stops, fails, weights)
    risk = numbers_at_risk(stops, times, start=None if start is None else starts, weight=weights)
    survival = np.asarray(np.cumprod(1 - deaths / risk), dtype=float)
    left = risk - deaths  # none left: the curve is zero and Greenwood's sum infinite
    if cluster is None:
        variance = np.asarray(np.cumsum(deaths / (risk * np.where(left > 0, left, np.inf))), dtype=float)
    else:
        shafts = np.unique(np.asarray(cluster), return_inverse=True)[1]
        each = np.ones(stops.size) if weights is None else weights
        variance = _variance_by_clusters(stops, fails, starts, each, shafts, times, risk, deaths)
    low, high = _log_log_band(survival, variance, level)
    return KaplanMeierCurve(
        months=times,
        still_tight=survival,
        std_error=np.asarray(survival * np.sqrt(variance), dtype=float),
        low=low,
        high=high,
        at_risk=risk,
        failures=deaths,
        level=level,
    )


def _failures(stops: FloatArray, fails: BoolArray, weights: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Give the distinct times of failure and how many failed at each."""
    if weights is None:
        times, counts = np.unique(stops[fails], return_counts=True)
        return times, counts.astype(float)
    times, at = np.unique(stops[fails], return_inverse=True)
    return times, np.asarray(np.bincount(at, weights=weights[fails], minlength=times.size), dtype=float)


def _variance_by_clusters(
    stops: FloatArray,
    fails: BoolArray,
    starts: FloatArray,
    weights: FloatArray,
    cluster: NDArray[np.int64],
    times: FloatArray,
    risk: FloatArray,
    deaths: FloatArray,
) -> FloatArray:
    """Variance of log S at each time: what a fitting adds to log S, summed by shaft, squared, summed [3]_.

    With one fitting a shaft it is Greenwood's sum.
    """
    left = np.where(risk > deaths, risk - deaths, np.inf)
    total = np.append(0.0, np.cumsum(deaths / (risk * left)))
    step = np.searchsorted(times, stops, side="right")  # steps at or before its end
    first = np.searchsorted(times, starts, side="right")
    own = np.where(fails, 1.0 / np.append(np.inf, left)[step], 0.0)
    order = np.argsort(cluster, kind="stable")
    begins = np.flatnonzero(np.diff(cluster[order], prepend=-1))
    number = np.arange(1, times.size + 1)
    variance = np.empty(times.size)
    block = max(1, 4_000_000 // stops.size)
    for at in range(0, times.size, block):
        now = number[at : at + block, None]
        seen = total[np.minimum(now, step)] - total[np.minimum(first, np.minimum(now, step))]
        added = weights * (own * (step <= now) - seen)
        variance[at : at + block] = np.sum(np.add.reduceat(added[:, order], begins, axis=1) ** 2, axis=1)
    return variance


def _log_log_band(survival: FloatArray, variance: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Interval from the variance of log S; at S = 0 the upper end stays where it was."""
    z = float(special.ndtri((1 + level) / 2))
    inner = (survival > 0) & (survival < 1)
    logs = np.log(np.where(inner, survival, 0.5))
    width = np.where(inner, z * np.sqrt(np.where(inner, variance, 0.0)) / -logs, 0.0)
    low = np.where(inner, np.exp(logs * np.exp(width)), survival)
    high = np.where(inner, np.exp(logs * np.exp(-width)), survival)
    ended = survival <= 0
    if ended.any():
        before = high[~ended]
        high = np.where(ended, before[-1] if before.size else 1.0, high)
    return low, high


def _checked(stop: ArrayLike, failed: ArrayLike, start: ArrayLike | None) -> tuple[FloatArray, BoolArray, FloatArray]:
    stops = np.asarray(stop, dtype=float)
    fails = np.asarray(failed, dtype=bool)
    # a start at 0 is no condition at all: a failure on the first day still counts
    starts = np.full(stops.shape, -np.inf) if start is None else np.asarray(start, dtype=float)
    starts = np.where(starts <= 0, -np.inf, starts)
    if stops.size == 0:
        raise AnalysisError("there are no fittings", needed="at least one fitting with a known time")
    if np.any(stops <= starts):
        raise AnalysisError(
            f"{int(np.sum(stops <= starts))} fittings stop no later than they start",
            needed="histories in which every fitting is seen for some time",
        )
    return stops, fails, starts
