"""Comparison of curves from intervals: the log-rank test when times lie between looks.

References
----------
.. [1] J. Sun, A non-parametric test for interval-censored failure time data with application to AIDS studies, Stat.
   Med. 15 (1996) 1387-1395.
.. [2] M. P. Fay, P. A. Shaw, Exact and asymptotic weighted logrank tests for interval censored data: the interval R
   package, J. Stat. Softw. 36(2) (2010) (the permutation form).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from wearstats.analysis.survival.turnbull import IntervalCells, TurnbullCurve
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IntervalLogRank:
    """Whether groups fail at the same rate, when each failure lies between two looks.

    Parameters
    ----------
    groups : tuple
        Labels, sorted.
    score : ndarray, shape (groups,)
        Sum of the scores of each group: failures seen less expected; positive where it fails more.
    statistic, p_value : float
        Chi-squared statistic and its probability.
    degrees_of_freedom : int
        Groups minus one.
    """

    groups: tuple[object, ...]
    score: FloatArray
    statistic: float
    p_value: float
    degrees_of_freedom: int


def interval_log_rank(
    cells: IntervalCells,
    curve: TurnbullCurve,
    group: ArrayLike,
    *,
    unreported: float = 1.0,
    cluster: ArrayLike | None = None,
) -> IntervalLogRank:
    """Test whether groups fail alike.

    Parameters
    ----------
    cells : IntervalCells
        Of all fittings, one row each.
    curve : TurnbullCurve
        Of all fittings together.
    group : array_like, shape (fittings,)
        Which group each belongs to.
    unreported : float
        Chance that a failure of a silent fitting goes unreported, as the curve was fitted.
    cluster : array_like, shape (fittings,), optional
        Shaft of each; its fittings may then fail together. Without it fittings are taken as exchangeable.

    Returns
    -------
    IntervalLogRank

    Raises
    ------
    AnalysisError
        With fewer than two groups, or where no score differs from another.
    """
    labels, index = np.unique(np.asarray(group), return_inverse=True)
    if labels.size < 2:
        raise AnalysisError("one group cannot be compared with itself", needed="fittings in at least two groups")
    score = fitting_scores(cells, curve, unreported=unreported)
    score = score - score.mean()
    member = (index[:, None] == np.arange(labels.size)).astype(float)
    total = member.T @ score
    if cluster is None:
        centred = member - member.mean(axis=0)
        covariance = (score @ score) / (score.size - 1) * (centred.T @ centred)
    else:
        # summed by shaft before they are squared: the permutation's variance [2]_ takes fittings as exchangeable
        _, shaft = np.unique(np.asarray(cluster), return_inverse=True)
        by_shaft = np.zeros((int(shaft.max()) + 1, labels.size))
        np.add.at(by_shaft, shaft, score[:, None] * (member - member.mean(axis=0)))
        covariance = by_shaft.T @ by_shaft
    if not np.any(np.diag(covariance) > 0):
        raise AnalysisError("nothing tells the fittings apart", needed="at least one failure")
    freedom = labels.size - 1
    kept = total[:-1]
    statistic = float(kept @ np.linalg.pinv(covariance[:-1, :-1], hermitian=True) @ kept)
    return IntervalLogRank(
        groups=tuple(labels.tolist()),
        score=total,
        statistic=statistic,
        p_value=float(stats.chi2.sf(statistic, freedom)),
        degrees_of_freedom=freedom,
    )


def fitting_scores(cells: IntervalCells, curve: TurnbullCurve, *, unreported: float = 1.0) -> FloatArray:
    """Give each fitting's score, shape (fittings,): how much sooner it failed than the common curve expects.

    Sun's scores [1]_, the log-rank test's where times are exact: the derivative of its log likelihood when every hazard
    is multiplied. S log S is that of the share still tight; minus the sum of discrete hazards stands for log S.
    """
    still = np.maximum(1.0 - np.append(0.0, np.cumsum(curve.mass)), 0.0)
    still[-1] = 0.0
    before = still[:-1]
    hazard = np.divide(curve.mass, before, out=np.zeros_like(before), where=before > 0)
    slope = -still * np.append(0.0, np.cumsum(hazard))
    soft = cells.soft_first < cells.first
    at_first = np.where(soft, 1.0 - unreported, 1.0)
    at_soft = np.where(soft, unreported, 0.0)
    known = at_first * still[cells.first] + at_soft * still[cells.soft_first] - still[cells.stop]
    change = at_first * slope[cells.first] + at_soft * slope[cells.soft_first] - slope[cells.stop]
    there = np.maximum(still[cells.entry_stop], 1e-300)
    return np.asarray(change / np.maximum(known, 1e-300) - slope[cells.entry_stop] / there, dtype=float)
