"""Maximise a restricted likelihood over variances that may be exactly zero.

The models themselves live in `tests.analysis.support.nested_variance_components` and
`wearstats.analysis.widths.likelihood`; both hand over the criterion, its score and the average information, and this
room walks to the maximum.

References
----------
.. [1] A. R. Gilmour, R. Thompson, B. R. Cullis, Average information REML, Biometrics 51 (1995) 1440-1450.
.. [2] D. A. Harville, Maximum likelihood approaches to variance component estimation, JASA 72 (1977) 320-338.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.errors import AnalysisError

_DAMPINGS = (1.0, 1e2, 1e4, 1e6)
"""How much is added to the information, one after the other, where a step leads nowhere."""
_FARTHEST = 1e3
"""Times the largest variance at the start: beyond that a step goes along a direction of which nothing is told."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RemlPoint:
    """A restricted likelihood at one set of variances.

    Parameters
    ----------
    criterion : float
        Minus twice the restricted log likelihood, with all constants, so that it compares with other programs.
    score : ndarray, shape (components,)
        Derivative of the restricted log likelihood by each variance.
    information : ndarray, shape (components, components)
        Average of observed and expected information [1]_.
    """

    criterion: float
    score: FloatArray
    information: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RemlFit:
    """Where the walk ended.

    Parameters
    ----------
    variances : ndarray, shape (components,)
        At the maximum; exactly 0.0 where the likelihood falls away from zero.
    point : RemlPoint
        The likelihood there.
    covariance : ndarray, shape (components, components)
        Inverse information among the free positive components; zero rows for components held or at zero.
    free : ndarray of bool, shape (components,)
        Which components were estimated.
    iterations : int
        Steps taken.
    """

    variances: FloatArray
    point: RemlPoint
    covariance: FloatArray
    free: BoolArray
    iterations: int


def maximise_reml(
    evaluate: Callable[[FloatArray], RemlPoint],
    start: FloatArray,
    *,
    free: BoolArray | None = None,
    positive: BoolArray | None = None,
    tolerance: float = 1e-12,
    most_steps: int = 200,
) -> RemlFit:
    """Walk to the maximum by projected average-information steps.

    Parameters
    ----------
    evaluate : callable
        Gives the `RemlPoint` at an array of variances, shape (components,).
    start : ndarray, shape (components,)
        Where to begin; positive for every free component.
    free : ndarray of bool, shape (components,), optional
        Components to estimate; the others stay at `start`. All by default.
    positive : ndarray of bool, shape (components,), optional
        Components that must not reach zero (the residual ones). None by default.
    tolerance : float
        Stop when the expected gain in log likelihood of the next step falls below this.
    most_steps : int
        Give up after so many.

    Returns
    -------
    RemlFit

    Raises
    ------
    AnalysisError
        When it does not settle.

    Notes
    -----
    A component at zero whose score is not positive stays there (the Kuhn-Tucker condition), so a boundary estimate is
    exactly zero, not merely small. A step that does not lower the criterion is halved.
    """
    free = np.ones(start.shape, dtype=bool) if free is None else free
    positive = np.zeros(start.shape, dtype=bool) if positive is None else positive
    floor = np.where(positive, 1e-10 * np.maximum(start, 1e-300), 0.0)
    theta = np.where(free, np.maximum(start, floor), start)
    point = evaluate(theta)
    farthest = _FARTHEST * float(np.where(free, theta, 0.0).max())
    for iteration in range(most_steps):
        moving = free & ~((theta <= floor) & (point.score <= 0))
        if not moving.any():
            return _finish(theta, point, free, iteration)
        step = np.zeros_like(theta)
        with np.errstate(over="ignore", invalid="ignore"):
            step[moving] = _newton_step(point.information[np.ix_(moving, moving)], point.score[moving])
        if not np.abs(step).max() <= farthest:
            step[moving] = _damped_step(point, theta, moving, _DAMPINGS[0])
        gain = float(step @ point.score)
        if abs(gain) < tolerance:
            return _finish(theta, point, free, iteration)
        theta_new, point_new = _descend(evaluate, theta, point, step, floor)
        for damping in _DAMPINGS if point_new is None and abs(gain) >= 1e-4 else ():
            step[moving] = _damped_step(point, theta, moving, damping)
            theta_new, point_new = _descend(evaluate, theta, point, step, floor)
            if point_new is not None:
                break
        if point_new is None:
            if abs(gain) < 1e-4:  # the criterion's own rounding has been reached
                return _finish(theta, point, free, iteration)
            break
        theta, point = theta_new, point_new
    raise AnalysisError(
        f"the variance components did not settle in {most_steps} steps",
        needed="check the readings for gross errors (wearstats store check), or add shafts measured twice",
    )


def _newton_step(information: FloatArray, score: FloatArray) -> FloatArray:
    """Solve for the step; a flat direction is damped rather than refused."""
    scale = np.sqrt(np.maximum(np.diag(information), 1e-300))
    scaled = information / np.outer(scale, scale)
    values, vectors = np.linalg.eigh(scaled)
    return np.asarray((vectors / np.maximum(values, 1e-8)) @ (vectors.T @ (score / scale)) / scale)


def _damped_step(point: RemlPoint, theta: FloatArray, moving: BoolArray, damping: float) -> FloatArray:
    """Solve for a shorter step, where readings are so alike that the average information tells hardly anything.

    Added to it is what so many units more would tell of each variance, 1 / (2 variance^2) a unit.
    """
    size = np.maximum(theta, 1e-4 * float(theta.max()))[moving]
    information = point.information[np.ix_(moving, moving)] + np.diag(damping * 0.5 / size**2)
    return _newton_step(information, point.score[moving])


def _descend(
    evaluate: Callable[[FloatArray], RemlPoint],
    theta: FloatArray,
    point: RemlPoint,
    step: FloatArray,
    floor: FloatArray,
) -> tuple[FloatArray, RemlPoint | None]:
    """Halve the step until the criterion falls; None when it never does."""
    length = 1.0
    for _ in range(30):
        trial = np.maximum(theta + length * step, floor)
        # a long step that throws a component on the boundary is first tried half-way
        if np.any((trial <= floor) & (theta > floor)) and length == 1.0:
            trial = np.where((trial <= floor) & (theta > floor), np.maximum(0.1 * theta, floor), trial)
            trial = np.where((0.1 * theta < 1e-6 * max(float(theta.max()), 1e-300)) & (trial < theta), floor, trial)
        try:
            with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
                point_new = evaluate(trial)
        except np.linalg.LinAlgError:  # so far out that the numbers run over
            length /= 2
            continue
        told = np.isfinite(point_new.criterion) and np.isfinite(point_new.information).all()
        if told and point_new.criterion < point.criterion + 1e-12:
            return trial, point_new
        length /= 2
    return theta, None


def _finish(theta: FloatArray, point: RemlPoint, free: BoolArray, iterations: int) -> RemlFit:
    inside = free & (theta > 0)
    covariance = np.zeros((theta.size, theta.size))
    if inside.any():
        covariance[np.ix_(inside, inside)] = np.linalg.pinv(point.information[np.ix_(inside, inside)], hermitian=True)
    return RemlFit(variances=theta, point=point, covariance=covariance, free=free, iterations=iterations)
