"""A few points that stand for all that a posterior density leaves open, each with its weight.

Where data are few, answers at the most likely parameters alone are too sure. So they are worked out at a small design
of points and weighted: centre, corners of a fractional factorial, and two points on each axis, placed where a normal
density with these weights has its moments up to the fifth (but for products of four axes, which a fraction of
resolution IV leaves aliased) [1]_. The design lies along the axes of the curvature at the mode. On each axis
it has the mean and the variance of the normal density that is split at the mode and reaches to either side as far as
the posterior does [2]_. Weights are not put right point by point: what many skew axes do to the corners together would
be taken from axes of which nothing is told.

A standard deviation has an exponential prior density, the penalised-complexity prior of a spread [3]_: nothing is the
simplest, and every further um is as much a surprise as the one before. It is worked with on the scale on which that
density is a standard normal: what data say nothing of is then integrated over as well as what they tell.

References
----------
.. [1] J. McNamee, F. Stenger, Construction of fully symmetric numerical integration formulas, Numer. Math. 10 (1967)
   327-344.
.. [2] H. Rue, S. Martino, N. Chopin, Approximate Bayesian inference for latent Gaussian models by using integrated
   nested Laplace approximations, J. R. Statist. Soc. B 71 (2009) 319-392, section 6.5 (design of points).
.. [3] D. Simpson, H. Rue, A. Riebler, T. G. Martins, S. H. Sorbye, Penalising model component complexity, Statist. Sci.
   32 (2017) 1-28, section 3.3.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import linalg, special

from wearstats.domain.arrays import FloatArray

STEPS = 60
"""To the mode, at most; about six are usual."""

_TRIED = 7.0**0.5
_REACH = (0.4, 2.5)
"""How many standard deviations from the mode the reach is found, and what it may be of that of the curvature."""


_TOLD = 0.025
"""Axes along which less than that is left of the prior variance are not integrated over: answers hardly bend there."""

Height = Callable[[FloatArray], float]
"""Minus the logarithm of a density at a point, shape (q,)."""

Slopes = Callable[[FloatArray], tuple[float, FloatArray, FloatArray]]
"""The same with its slope, shape (q,), and about its curvature, shape (q, q)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DesignPoints:
    """A posterior density as some points.

    Parameters
    ----------
    points : ndarray, shape (points, q)
        Where.
    weights : ndarray, shape (points,)
        They add up to 1.
    left : ndarray, shape (q,)
        How much of each parameter's prior variance, which is 1, is left.
    """

    points: FloatArray
    weights: FloatArray
    left: FloatArray


def exponential_of_normal(normal: FloatArray, mean: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the value at the same place of an exponential law, with its first and second slope, same shapes.

    Parameters
    ----------
    normal : ndarray, shape (q,)
        Places in a standard normal law.
    mean : ndarray, shape (q,)
        Means of the exponential laws.
    """
    value = -mean * special.log_ndtr(-normal)
    # the normal's hazard, by logarithms as both parts vanish far out
    hazard = np.exp(-0.5 * normal**2 - 0.5 * np.log(2 * np.pi) - special.log_ndtr(-normal))
    return value, mean * hazard, mean * hazard * (hazard - normal)


def normal_of_exponential(value: FloatArray, mean: FloatArray) -> FloatArray:
    """Give the place in a standard normal law of a positive value of an exponential one, same shapes."""
    return np.asarray(-special.ndtri_exp(-value / mean))


def standard_design(axes: int) -> tuple[FloatArray, FloatArray]:
    """Give points and weights for a standard normal of three axes or more, shapes (points, axes) and (points,)."""
    runs = 2 ** max(int(np.ceil(np.log2(axes))), 2)
    half = linalg.hadamard(runs)[:, :axes]
    corner = (1 - 2 / axes) ** -0.5
    points = np.concatenate(
        [np.zeros((1, axes)), corner * np.concatenate([half, -half]), axes**0.5 * np.concatenate([np.eye(axes)] * 2)]
    )
    points[1 + 2 * runs + axes :] *= -1
    weights = np.concatenate(
        [
            [2 / axes - 4 / axes**2],
            np.full(2 * runs, (1 - 2 / axes) ** 2 / (2 * runs)),
            np.full(2 * axes, 1 / axes**2),
        ]
    )
    return points, weights


def place_points(height: Height, slopes: Slopes, start: FloatArray) -> DesignPoints:
    """Find the mode and place the design about it.

    Parameters
    ----------
    height, slopes : callable
        The density, with a standard normal prior in it.
    start : ndarray, shape (q,)
        Where to begin; q is 3 or more.

    Returns
    -------
    DesignPoints
    """
    mode, least, curvature = _descend(slopes, start)
    roots, axes = np.linalg.eigh(curvature)
    # nothing that data say makes a parameter much less sure than before
    roots = np.maximum(roots, 0.5)
    open_ = np.arange(mode.size) < max(3, int(np.count_nonzero(roots < 1 / _TOLD)))
    scale = axes[:, open_] / np.sqrt(roots[open_])
    tried = np.stack([mode + sign * _TRIED * scale.T for sign in (1.0, -1.0)])
    falls = np.array([[height(point) - least for point in side] for side in tried])
    reach = np.clip(_TRIED / np.sqrt(2 * np.maximum(falls, 1e-6)), *_REACH)
    above, below = reach
    # mean and variance of a normal density split at its mode
    middle = (2 / np.pi) ** 0.5 * (above - below)
    spread = np.sqrt((1 - 2 / np.pi) * (above - below) ** 2 + above * below)
    standard, weights = standard_design(scale.shape[1])
    points = mode + (middle + standard * spread) @ scale.T
    left = scale**2 @ spread**2 + axes[:, ~open_] ** 2 @ (1 / roots[~open_])
    return DesignPoints(points=points, weights=weights, left=left)


def _descend(slopes: Slopes, start: FloatArray) -> tuple[FloatArray, float, FloatArray]:
    """Walk to the least by Newton's steps, halved where they lead up."""
    at = start
    value, slope, curvature = slopes(at)
    for _ in range(STEPS):
        step = -np.linalg.solve(curvature, slope)
        if -float(slope @ step) < 1e-6:
            break
        step *= min(1.0, 1.5 / float(np.abs(step).max()))
        trial = slopes(at + step)
        while trial[0] > value and np.abs(step).max() > 1e-4:
            step /= 2
            trial = slopes(at + step)
        at = at + step
        value, slope, curvature = trial
    return at, value, curvature
