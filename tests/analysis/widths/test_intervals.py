"""Intervals of variance components: against a one-way layout whose restricted likelihood is written down."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from scipy import optimize

from wearstats.analysis.numerics.reml import RemlFit, RemlPoint, maximise_reml
from wearstats.analysis.widths.intervals import curvature_interval, profile_interval
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.domain.arrays import FloatArray

GROUPS, EACH, DROP = 8, 5, 3.841458820694124
POSITIVE = np.array([False, True])


def one_way(between: float, within: float) -> Callable[[FloatArray], RemlPoint]:
    """Balanced groups with these sums of squares: the likelihood is that of two independent chi-squares."""

    def evaluate(variances: FloatArray) -> RemlPoint:
        scales = np.array([variances[1] + EACH * variances[0], variances[1]])
        freedom, sums = np.array([GROUPS - 1, GROUPS * (EACH - 1)]), np.array([between, within])
        moves = np.array([[EACH, 1.0], [0.0, 1.0]])  # of the scales by the variances
        slope = 0.5 * (sums / scales**2 - freedom / scales)
        # average of observed and expected information
        bend = 0.5 * sums / scales**3
        return RemlPoint(
            criterion=float(np.sum(freedom * np.log(scales) + sums / scales)),
            score=moves.T @ slope,
            information=(moves.T * bend) @ moves,
        )

    return evaluate


def fitted(between: float, within: float) -> tuple[Callable[[FloatArray], RemlPoint], RemlFit]:
    evaluate = one_way(between, within)
    return evaluate, maximise_reml(evaluate, np.array([1.0, 1.0]), positive=POSITIVE)


@pytest.mark.parametrize(("between", "low_is_nought"), [(400.0, False), (40.0, True), (7.0, True)])
def test_profile_ends_are_where_the_criterion_has_risen_by_the_drop(between: float, low_is_nought: bool) -> None:
    evaluate, reml = fitted(between, 96.0)
    likelihood = cast(WidthLikelihood, SimpleNamespace(evaluate=evaluate))
    low, high = profile_interval(likelihood, reml, 0, positive=POSITIVE)

    def risen(variance: float) -> float:
        """Independent: the other variance found by search."""
        found = optimize.minimize_scalar(
            lambda log: evaluate(np.array([variance, np.exp(log)])).criterion, bounds=(-6, 6), method="bounded"
        )
        return float(found.fun) - reml.point.criterion

    assert high is not None
    # the root of the rise is found to 2 %
    assert np.sqrt(risen(high)) == pytest.approx(np.sqrt(DROP), rel=0.03)
    if low_is_nought:
        assert low == 0.0
        assert risen(1e-9) < DROP
    else:
        assert np.sqrt(risen(low)) == pytest.approx(np.sqrt(DROP), rel=0.03)
    # the variance within is kept above nought
    low, high = profile_interval(likelihood, reml, 1, positive=POSITIVE)
    assert high is not None
    assert 0 < low < reml.variances[1] < high


def test_curvature_ends_are_those_of_the_parabola() -> None:
    for between in (400.0, 40.0, 7.0):
        _, reml = fitted(between, 96.0)
        low, high = curvature_interval(reml, 0)
        top, information, score = float(reml.variances[0]), reml.point.information, reml.point.score

        def risen(step: float, information: FloatArray = information, score: FloatArray = score) -> float:
            """Twice what the likelihood falls by, the other variance going along as is best."""
            along = -information[0, 1] * step / information[1, 1]
            move = np.array([step, along])
            return float(move @ information @ move - 2 * min(score[0], 0.0) * step)

        assert risen(high - top) == pytest.approx(DROP, rel=1e-6)
        assert low == 0.0 if risen(-top) < DROP or top == 0 else risen(low - top) == pytest.approx(DROP, rel=1e-6)


def test_a_variance_that_nothing_bounds_has_no_upper_end() -> None:
    # a likelihood that rises to a flat top
    def evaluate(variances: FloatArray) -> RemlPoint:
        own = variances[0]
        return RemlPoint(
            criterion=float(1 / (1 + own) + variances[1] - np.log(variances[1])),
            score=np.array([0.5 / (1 + own) ** 2, 0.5 * (1 / variances[1] - 1)]),
            information=np.diag([1 / (1 + own) ** 3, 0.5 / variances[1] ** 2]),
        )

    point = evaluate(np.array([4.0, 1.0]))
    reml = RemlFit(
        variances=np.array([4.0, 1.0]), point=point, covariance=np.eye(2), free=np.ones(2, dtype=bool), iterations=1
    )
    likelihood = cast(WidthLikelihood, SimpleNamespace(evaluate=evaluate))
    assert profile_interval(likelihood, reml, 0, positive=POSITIVE)[1] is None
