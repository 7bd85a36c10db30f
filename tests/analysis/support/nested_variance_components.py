"""Variance components of one- and two-level nesting, from counts, means and sums of squares alone.

The model is ``reading = mean + group + subgroup in group + residual``, unbalanced. Everything a reading says beyond its
subgroup's count, mean and inner sum of squares is irrelevant, and the rest has a closed form per group, so the cost is
that of a few sums over subgroups whatever the number of readings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.numerics.reml import RemlFit, RemlPoint, maximise_reml
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestedMoments:
    """Sufficient statistics of a nested classification.

    Parameters
    ----------
    group : ndarray of int, shape (subgroups,)
        Group of each subgroup, numbered from 0, sorted.
    count : ndarray, shape (subgroups,)
        Readings in the subgroup.
    mean : ndarray, shape (subgroups,)
        Their mean.
    within : float
        Sum of squared deviations of the readings from their subgroups' means.
    """

    group: IntArray
    count: FloatArray
    mean: FloatArray
    within: float

    @classmethod
    def from_readings(cls, value: FloatArray, group: IntArray, subgroup: IntArray | None = None) -> NestedMoments:
        """Reduce readings; without `subgroup` each group is its own only subgroup (one-way classification)."""
        inner = np.zeros_like(group) if subgroup is None else subgroup
        labels, index = np.unique(np.stack([group, inner]), axis=1, return_inverse=True)
        index = index.ravel()
        count = np.bincount(index).astype(float)
        shift = float(value.mean())  # large offsets would otherwise cancel digits
        mean = np.bincount(index, value - shift) / count
        within = float(np.sum((value - shift - mean[index]) ** 2))
        return cls(group=np.unique(labels[0], return_inverse=True)[1], count=count, mean=mean + shift, within=within)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestedFit:
    """REML fit of a nested classification, in the unit of the readings (squared for variances).

    Parameters
    ----------
    group, subgroup, residual : float
        Variances; exactly 0.0 on the boundary.
    mean, mean_se : float
        Generalised least squares mean and its standard error.
    reml : RemlFit
        The fit, in the order group, subgroup, residual.
    """

    group: float
    subgroup: float
    residual: float
    mean: float
    mean_se: float
    reml: RemlFit


def fit_nested(moments: NestedMoments, *, subgroups: bool = True) -> NestedFit:
    """Fit by restricted maximum likelihood.

    Parameters
    ----------
    moments : NestedMoments
        The data, reduced.
    subgroups : bool
        Whether subgroups within groups have a variance of their own.

    Returns
    -------
    NestedFit

    Raises
    ------
    AnalysisError
        With fewer than two groups, or without any repeated reading to tell the residual from the rest.
    """
    groups = int(moments.group[-1]) + 1 if moments.group.size else 0
    spare = float(moments.count.sum()) - (moments.count.size if subgroups else groups)
    if groups < 2 or spare < 1:
        raise AnalysisError(
            f"{groups} groups with {spare:.0f} repeated readings cannot separate the spread between from that within",
            needed="at least two groups and one group read twice",
        )
    spread = float(np.var(moments.mean)) + moments.within / max(float(moments.count.sum()), 1.0)
    if spread <= 0:
        raise AnalysisError("all readings are equal", needed="readings from a gauge that resolves the differences")
    start = np.array([spread / 3, spread / 3 if subgroups else 0.0, spread / 3])
    starts = np.flatnonzero(np.r_[True, np.diff(moments.group) > 0])
    shift = float(moments.mean.mean())
    y = moments.mean - shift
    reml = maximise_reml(
        lambda theta: _evaluate(theta, moments, starts, y)[0],
        start,
        free=np.array([True, subgroups, True]),
        positive=np.array([False, False, True]),
    )
    _, mean, mean_variance = _evaluate(reml.variances, moments, starts, y)
    group, subgroup, residual = (float(v) for v in reml.variances)
    return NestedFit(
        group=group, subgroup=subgroup, residual=residual, mean=mean + shift, mean_se=mean_variance**0.5, reml=reml
    )


def _evaluate(
    theta: FloatArray, moments: NestedMoments, starts: IntArray, y: FloatArray
) -> tuple[RemlPoint, float, float]:
    """Criterion, score and information; mean and its variance.

    With ``w = 1 / (s_sub + s_res / n)`` the covariance of a group's subgroup means is ``diag(1 / w) + s_group 11'``,
    whose inverse and determinant follow from the sums of w alone.
    """
    s_group, s_sub, s_res = theta
    count, group = moments.count, moments.group
    w = 1.0 / (s_sub + s_res / count)
    sum_w = np.add.reduceat(w, starts)
    d = 1.0 + s_group * sum_w

    def inverse(x: FloatArray) -> FloatArray:
        """Apply the inverse covariance of the means to the columns of x, shape (subgroups, k)."""
        wx = w[:, None] * x
        pull = s_group * np.add.reduceat(wx, starts) / d[:, None]
        return np.asarray(wx - w[:, None] * pull[group])

    one = w / d[group]  # inverse covariance times the column of ones
    precision = float(one.sum())
    mean = float(one @ y) / precision

    def project(x: FloatArray) -> FloatArray:
        return inverse(x) - np.outer(one, one @ x) / precision

    r = inverse((y - mean)[:, None])[:, 0]
    quadratic = float(r @ (y - mean)) + moments.within / s_res
    readings = float(count.sum())
    inner = readings - count.size
    criterion = (
        inner * np.log(s_res)
        + float(np.sum(np.log(count)) - np.sum(np.log(w)) + np.sum(np.log(d)))
        + np.log(precision)
        + quadratic
        + (readings - 1) * np.log(2 * np.pi)
    )
    group_r = np.add.reduceat(r, starts)
    diagonal = w - s_group * w**2 / d[group]
    traces = np.array(
        [
            float(np.sum(sum_w / d) - np.sum((sum_w / d) ** 2) / precision),
            float(np.sum(diagonal) - one @ one / precision),
            float(np.sum(diagonal / count) - np.sum(one**2 / count) / precision + inner / s_res),
        ]
    )
    within = moments.within
    squares = np.array([group_r @ group_r, r @ r, np.sum(r**2 / count) + within / s_res**2])
    working = np.stack([group_r[group], r, r / count], axis=1)
    information = 0.5 * working.T @ project(working)
    information[2, 2] += 0.5 * within / s_res**3
    point = RemlPoint(criterion=criterion, score=0.5 * (squares - traces), information=information)
    return point, mean, 1.0 / precision
