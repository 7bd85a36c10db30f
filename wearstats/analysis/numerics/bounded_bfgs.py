"""Walk down a smooth function of a few parameters within bounds, from a metric that is known at the start.

A general optimiser spends most of its steps on finding out how the parameters are scaled. Where the curvature is known
about, as from the scatter of a likelihood's slopes, a dozen evaluations do.

References
----------
.. [1] J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed., Springer 2006 (6.1, the update of the metric; 3.1, the
   halving of steps).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wearstats.domain.arrays import FloatArray


def descend(
    evaluate: Callable[[FloatArray], tuple[float, FloatArray]],
    start: FloatArray,
    metric: FloatArray,
    bounds: FloatArray,
    *,
    tolerance: float = 1e-7,
    most_steps: int = 100,
) -> tuple[float, FloatArray]:
    """Find the least value.

    Parameters
    ----------
    evaluate : callable
        Gives value and slope at parameters of shape (n,).
    start : ndarray, shape (n,)
        Where to begin.
    metric : ndarray, shape (n, n)
        About the inverse of the second derivatives there; zero rows hold a parameter.
    bounds : ndarray, shape (n, 2)
        What the parameters may be.
    tolerance : float
        Stop when the next step promises less.
    most_steps : int
        Give up after so many.

    Returns
    -------
    value : float
    at : ndarray, shape (n,)
    """
    at = np.clip(start, bounds[:, 0], bounds[:, 1])
    value, slope = evaluate(at)
    for _ in range(most_steps):
        stuck = ((at <= bounds[:, 0]) & (slope > 0)) | ((at >= bounds[:, 1]) & (slope < 0))
        inside = np.where(stuck, 0.0, slope)
        step = np.where(stuck, 0.0, -metric @ inside)
        promised = float(step @ inside)
        if promised > -tolerance:
            break
        length = min(1.0, 2.0 / float(np.abs(step).max()))
        for _ in range(25):
            there = np.clip(at + length * step, bounds[:, 0], bounds[:, 1])
            value_there, slope_there = evaluate(there)
            if value_there <= value + 1e-4 * float(inside @ (there - at)):
                break
            length *= 0.3
        else:
            break
        moved, turned = there - at, slope_there - slope
        metric = _updated(metric, moved, turned)
        at, value, slope = there, value_there, slope_there
    return value, at


def _updated(metric: FloatArray, moved: FloatArray, turned: FloatArray) -> FloatArray:
    """Update the metric by one step [1]_; parameters that are held stay so."""
    turned = np.where(np.diag(metric) > 0, turned, 0.0)
    along = float(moved @ turned)
    if along <= 1e-12:
        return metric
    pulled = metric @ turned
    return np.asarray(
        metric
        + (1 + float(turned @ pulled) / along) * np.outer(moved, moved) / along
        - (np.outer(pulled, moved) + np.outer(moved, pulled)) / along
    )
