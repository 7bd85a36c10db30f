"""How often hubs leave for each of several causes, when one cause forestalls another.

The share lost to one cause in the presence of the others (cumulative incidence, Aalen-Johansen). It differs from one
minus a Kaplan-Meier curve in which the other causes count as lost from sight: that answers what would happen if the
other causes did not exist.

References
----------
.. [1] O. O. Aalen, S. Johansen, An empirical transition matrix for non-homogeneous Markov chains based on censored
   observations, Scand. J. Stat. 5 (1978) 141-150.
.. [2] E. Marubini, M. G. Valsecchi, Analysing Survival Data from Clinical Trials, Wiley 1995, section 10.3 (variance).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy import special

from wearstats.analysis.survival.kaplan_meier import numbers_at_risk
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

_ROUNDING = 1e-12
"""By how much a sum of shares may miss one when all are lost."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IncidenceCurve:
    """The share lost to one cause, a step at every time at which anything was lost.

    Parameters
    ----------
    months : ndarray, shape (steps,)
        Distinct times of loss to any cause, ascending.
    share : ndarray, shape (steps,)
        Share lost to this cause by then.
    std_error, low, high : ndarray, shape (steps,)
        Standard error [2]_ and pointwise interval on the complementary log-log scale.
    level : float
        Coverage meant.
    """

    months: FloatArray
    share: FloatArray
    std_error: FloatArray
    low: FloatArray
    high: FloatArray
    level: float

    def to_frame(self) -> pd.DataFrame:
        """Give a row a step."""
        return pd.DataFrame({"months": self.months, "share": self.share, "low": self.low, "high": self.high})


def fit_incidence(
    stop: ArrayLike, cause: ArrayLike, *, start: ArrayLike | None = None, level: float = 0.95
) -> Mapping[int, IncidenceCurve]:
    """Estimate the cumulative incidence of every cause.

    Parameters
    ----------
    stop : array_like, shape (fittings,)
        Months to the loss or to the last word.
    cause : array_like of int, shape (fittings,)
        0 for still there at the last word, else a number of the cause.
    start : array_like, shape (fittings,), optional
        Month from which the fitting is known, below `stop`; 0 by default.
    level : float
        Coverage of the pointwise intervals.

    Returns
    -------
    mapping of int to IncidenceCurve
        By cause; empty when nothing was lost.

    Raises
    ------
    AnalysisError
        Without fittings, or where one stops no later than it starts.
    """
    stops = np.asarray(stop, dtype=float)
    causes = np.asarray(cause, dtype=np.int64)
    starts = None if start is None else np.asarray(start, dtype=float)
    if stops.size == 0 or (starts is not None and bool(np.any((stops <= starts) & (starts > 0)))):
        raise AnalysisError("there are no fittings, or some stop before they start", needed="fittings seen for a time")
    lost = causes > 0
    times, where = np.unique(stops[lost], return_inverse=True)
    kept_start = None if starts is None else np.where(starts <= 0, -np.inf, starts)
    risk = numbers_at_risk(stops, times, start=kept_start)
    all_lost = np.bincount(where, minlength=times.size).astype(float)
    before = np.append(1.0, np.cumprod(1 - all_lost / risk)[:-1])
    curves: dict[int, IncidenceCurve] = {}
    for number in np.unique(causes[lost]):
        this = (causes[lost] == number).astype(float)
        lost_here = np.asarray(np.bincount(where, weights=this, minlength=times.size), dtype=float)
        share = np.cumsum(before * lost_here / risk)
        variance = _variance(share, before, all_lost, lost_here, risk)
        low, high = _band(share, np.sqrt(variance), level)
        curves[int(number)] = IncidenceCurve(
            months=times, share=share, std_error=np.sqrt(variance), low=low, high=high, level=level
        )
    return curves


def combine_causes(shares: Sequence[ArrayLike]) -> list[FloatArray]:
    """Turn curves of single causes, each fitted as if the others did not exist, into incidences beside each other.

    Parameters
    ----------
    shares : sequence of array_like, shape (..., months)
        For every cause the share that it alone would have taken by each month, on one ascending grid of months.

    Returns
    -------
    list of ndarray, shape (..., months)
        For every cause the share lost to it in the presence of the others.

    Notes
    -----
    The hazard of each cause is that of its own curve. Between two months the hazards are taken to keep their ratio,
    so that what is lost is shared out by what they add up to there. Where all times are exact and the grid is fine
    this is the Aalen-Johansen estimate; where times are intervals it is what that estimate is made of, cause by cause.
    """
    kept = [np.maximum(1.0 - np.asarray(share, dtype=float), 1e-12) for share in shares]
    added = [np.maximum(np.diff(-np.log(still), axis=-1, prepend=0.0), 0.0) for still in kept]
    total = np.sum(added, axis=0)
    left = np.exp(-np.cumsum(total, axis=-1))
    lost = np.exp(total) * left - left
    parts = [np.divide(part, total, out=np.zeros_like(total), where=total > 0) for part in added]
    return [np.asarray(np.cumsum(lost * part, axis=-1), dtype=float) for part in parts]


def _variance(
    share: FloatArray, before: FloatArray, all_lost: FloatArray, lost_here: FloatArray, risk: FloatArray
) -> FloatArray:
    """Delta-method variance [2]_, its double sum unfolded into running sums.

    With F the share and S the curve of all losses, the variance at t is
    sum (F(t) - F_j)^2 d_j / (n_j (n_j - d_j)) + sum S_{j-1}^2 (n_j - d1_j) d1_j / n_j^3
    - 2 sum (F(t) - F_j) S_{j-1} d1_j / n_j^2.
    """
    left = risk - all_lost
    # once all are lost S is zero and later terms vanish; F(t) = F_j at that step, so the first sum adds none
    a = all_lost / (risk * np.where(left > 0, left, np.inf))
    b = before * lost_here / risk**2
    first = share**2 * np.cumsum(a) - 2 * share * np.cumsum(a * share) + np.cumsum(a * share**2)
    second = np.cumsum(before**2 * (risk - lost_here) * lost_here / risk**3)
    third = share * np.cumsum(b) - np.cumsum(b * share)
    return np.maximum(first + second - 2 * third, 0.0)


def _band(share: FloatArray, std_error: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    z = float(special.ndtri((1 + level) / 2))
    inner = (share > 0) & (share < 1 - _ROUNDING)
    kept = np.where(inner, 1 - share, 0.5)
    width = np.where(inner, z * std_error / (kept * -np.log(kept)), 0.0)
    low = np.where(inner, 1 - kept ** np.exp(-width), share)
    high = np.where(inner, 1 - kept ** np.exp(width), share)
    return low, high
