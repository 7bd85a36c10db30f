"""Curves still tight over time, when the times are known: Kaplan-Meier with delayed entry, and the log-rank test.

A fitting known only from a later date (``start``) is at risk from just after it: at a failure time t the risk set is
``start < t <= stop``. Failures at a time come before those lost from sight at the same time.

References
----------
.. [1] J. P. Klein, M. L. Moeschberger, Survival Analysis, 2nd ed., Springer 2003, sections 4.2, 4.3, 4.6 and 7.3.
.. [2] T. M. Therneau, P. M. Grambsch, Modeling Survival Data, Springer 2000, section 3.7 (delayed entry).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from wearstats.errors import AnalysisError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


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
        Greenwood's standard error of it.
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

    def median(self) -> float | None:
        """Give the time by which half have failed, in months; None when more than half are still tight at the end."""
        below = np.flatnonzero(self.still_tight <= 0.5 + 1e-12)
        return float(self.months[below[0]]) if below.size else None

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogRankResult:
    """Whether groups fail at the same rate.

    Parameters
    ----------
    groups : tuple
        Labels, sorted.
    observed, expected : ndarray, shape (groups,)
        Failures seen, and expected were all groups alike.
    statistic, p_value : float
        Chi-squared statistic and its probability.
    degrees_of_freedom : int
        Groups minus one.
    """

    groups: tuple[object, ...]
    observed: FloatArray
    expected: FloatArray
    statistic: float
    p_value: float
    degrees_of_freedom: int


def numbers_at_risk(stop: ArrayLike, months: ArrayLike, *, start: ArrayLike | None = None) -> FloatArray:
    """Count the fittings under observation at given times.

    Parameters
    ----------
    stop : array_like, shape (fittings,)
        Months to failure or to the last word.
    months : array_like, shape (times,)
        Times asked for; a fitting counts when ``start < t <= stop``, and all that start at 0 count at 0.
    start : array_like, shape (fittings,), optional
        Month from which the fitting is known; 0 by default.

    Returns
    -------
    ndarray, shape (times,)
    """
    times = np.asarray(months, dtype=float)
    stops = np.sort(np.asarray(stop, dtype=float))
    leaving = np.searchsorted(stops, times, side="left")
    if start is None:
        entered: NDArray[np.int64] | int = stops.size
    else:
        starts = np.sort(np.asarray(start, dtype=float))
        entered = np.where(
            times <= 0, np.searchsorted(starts, times, side="right"), np.searchsorted(starts, times, side="left")
        )
    return np.asarray(entered - leaving, dtype=float)


def fit_kaplan_meier(
    stop: ArrayLike, failed: ArrayLike, *, start: ArrayLike | None = None, level: float = 0.95
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
    times, counts = np.unique(stops[fails], return_counts=True)
    deaths = counts.astype(float)
    risk = numbers_at_risk(stops, times, start=starts)
    survival = np.asarray(np.cumprod(1 - deaths / risk), dtype=float)
    gone = risk <= deaths  # the last at risk failed: the curve is zero and Greenwood's sum infinite
    with np.errstate(divide="ignore"):
        greenwood = np.cumsum(deaths / (risk * np.where(gone, np.inf, risk - deaths)))
    std_error = np.asarray(survival * np.sqrt(greenwood), dtype=float)
    low, high = _log_log_band(survival, greenwood, level)
    return KaplanMeierCurve(
        months=times,
        still_tight=survival,
        std_error=std_error,
        low=low,
        high=high,
        at_risk=risk,
        failures=deaths,
        level=level,
    )


def log_rank(stop: ArrayLike, failed: ArrayLike, group: ArrayLike, *, start: ArrayLike | None = None) -> LogRankResult:
    """Test whether groups fail alike, when the times are known.

    Parameters
    ----------
    stop, failed, start : array_like, shape (fittings,)
        As in `fit_kaplan_meier`.
    group : array_like, shape (fittings,)
        Which group each belongs to.

    Returns
    -------
    LogRankResult

    Raises
    ------
    AnalysisError
        With fewer than two groups, or without a failure.
    """
    stops, fails, starts = _checked(stop, failed, start)
    labels, index = np.unique(np.asarray(group), return_inverse=True)
    times, counts = np.unique(stops[fails], return_counts=True)
    if labels.size < 2 or times.size == 0:
        raise AnalysisError(
            f"{labels.size} groups and {int(fails.sum())} failures cannot be compared",
            needed="at least two groups and one failure",
        )
    deaths = counts.astype(float)
    members = [index == number for number in range(labels.size)]
    risk = np.stack([numbers_at_risk(stops[m], times, start=starts[m]) for m in members])
    total = risk.sum(axis=0)
    observed = np.array([float(fails[m].sum()) for m in members])
    share = risk / total
    expected = share @ deaths
    # hypergeometric variance, ties included ([1]_, equation 7.3.4); a risk set of one adds none
    spread = deaths * (total - deaths) / np.maximum(total - 1, 1)
    covariance = np.diag(share @ spread) - (share * spread) @ share.T
    excess = (observed - expected)[:-1]
    statistic = float(excess @ np.linalg.pinv(covariance[:-1, :-1], hermitian=True) @ excess)
    freedom = labels.size - 1
    return LogRankResult(
        groups=tuple(labels.tolist()),
        observed=observed,
        expected=expected,
        statistic=statistic,
        p_value=float(stats.chi2.sf(statistic, freedom)),
        degrees_of_freedom=freedom,
    )


def _log_log_band(survival: FloatArray, greenwood: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Interval from the variance of log(-log S); at S = 0 the upper end stays where it was."""
    z = float(stats.norm.ppf((1 + level) / 2))
    inner = (survival > 0) & (survival < 1)
    logs = np.log(np.where(inner, survival, 0.5))
    width = np.where(inner, z * np.sqrt(np.where(inner, greenwood, 0.0)) / -logs, 0.0)
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
