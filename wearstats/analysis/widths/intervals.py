"""What intervals need besides the likelihood's slopes: profiles of weakly told components; errors that many share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from wearstats.analysis.numerics.reml import RemlFit, maximise_reml
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.domain.arrays import BoolArray, FloatArray


def profile_interval(
    likelihood: WidthLikelihood, reml: RemlFit, component: int, *, positive: BoolArray, drop: float = 3.841458820694124
) -> tuple[float, float | None]:
    """Variances at which the profiled criterion has risen by `drop`.

    Parameters
    ----------
    likelihood : WidthLikelihood
        The likelihood.
    reml : RemlFit
        Its maximum.
    component : int
        Which variance.
    positive : ndarray of bool, shape (13,)
        Components kept above zero.
    drop : float
        The 95 % point of chi-square with one degree of freedom by default.

    Returns
    -------
    low, high : float, float or None
        In um^2; low is 0.0 when zero is inside the interval, high None when no bound was found.
    """
    free = reml.free.copy()
    free[component] = False
    best = reml.point.criterion
    top = float(reml.variances[component])
    scale = max(top, float(np.sqrt(reml.covariance[component, component])), 0.25)
    others = np.where(reml.free, np.maximum(reml.variances, 1e-3 * scale), reml.variances)

    def root(sd: float) -> float:
        """Square root of the rise of the profiled criterion at a standard deviation; nearly linear in it."""
        nonlocal others
        start = others.copy()
        start[component] = sd**2
        profiled = maximise_reml(likelihood.evaluate, start, free=free, positive=positive, tolerance=5e-3)
        others = np.where(reml.free, np.maximum(profiled.variances, 1e-3 * scale), reml.variances)
        return float(np.sqrt(max(profiled.point.criterion - best, 0.0)))

    wanted, here = float(np.sqrt(drop)), float(np.sqrt(top))
    low = 0.0
    if top > 0 and (positive[component] or root(0.0) > wanted):
        low = _crossing(root, wanted, here, 0.5 * here)
    high = _crossing(root, wanted, here, float(np.sqrt(top + scale)))
    return low**2, None if not np.isfinite(high) else high**2


def curvature_interval(reml: RemlFit, component: int, *, drop: float = 3.841458820694124) -> tuple[float, float]:
    """Variances at which the profiled criterion would have risen by `drop` if it were a parabola.

    Parameters
    ----------
    reml : RemlFit
        The maximum.
    component : int
        Which variance.
    drop : float
        As for `profile_interval`.

    Returns
    -------
    low, high : float
        In um^2; low is 0.0 when zero is inside the interval.
    """
    others = reml.free & (reml.variances > 0)
    others[component] = False
    information = reml.point.information
    own = float(information[component, component])
    if others.any():
        across = information[component, others]
        own -= float(across @ np.linalg.solve(information[np.ix_(others, others)], across))
    top = float(reml.variances[component])
    # at zero the likelihood may fall with a slope: the rise by a step is -2 slope step + curvature step^2
    slope = min(float(reml.point.score[component]), 0.0) if top == 0 else 0.0
    own = max(own, 1e-300)
    reach = (slope + float(np.sqrt(slope**2 + drop * own))) / own
    return max(top - reach, 0.0) if top > 0 else 0.0, top + reach


def _crossing(root: Callable[[float], float], wanted: float, best: float, guess: float) -> float:
    """Find the standard deviation at which the root of the rise reaches `wanted`, to 2 %; inf when it never does."""
    inside, inside_root, outside, outside_root = best, 0.0, float("nan"), float("nan")
    trial = guess
    for _ in range(25):
        value = root(trial)
        if value < wanted:
            inside, inside_root = trial, value
        else:
            outside, outside_root = trial, value
        if abs(value - wanted) < 0.02 * wanted:
            return trial
        if np.isfinite(outside):
            # the root goes nearly straight with the standard deviation, so the secant needs fewer fits than halving
            slope = (outside_root - inside_root) / (outside - inside)
            trial = inside + (wanted - inside_root) / slope
            near, far = sorted((inside + 0.02 * (outside - inside), outside))
            trial = min(max(trial, near), far)
            if abs(outside - inside) < 0.005 * abs(outside):
                return trial
        elif trial > best:
            trial = best + min(max(1.1 * wanted / max(value, 1e-3), 1.3), 4.0) * (trial - best)
            if trial > 1e4:
                break
        else:
            trial = best - min(max(1.1 * wanted / max(value, 1e-3), 1.3), 4.0) * (best - trial)
            trial = max(trial, 0.05 * inside)
    return float("inf")


def shared_piece_covariance(likelihood: WidthLikelihood, variances: FloatArray) -> FloatArray | None:
    """Covariance of the means that comes from what all readings of one check piece have in common.

    Parameters
    ----------
    likelihood : WidthLikelihood
        The likelihood.
    variances : ndarray, shape (13,)
        Components, um^2.

    Returns
    -------
    ndarray or None, shape (means, means)
        In um^2; None where no piece with a doubt was read twice.

    Notes
    -----
    The means are linear in the readings: what a piece that is 1 um off makes of them is what they are of readings that
    are 1 on that piece and nothing elsewhere. Of n readings each has counted with an error of its own, which leaves
    the mean 1/n of the variance: the rest is added here.
    """
    inspections = likelihood.data.inspections
    if "piece_u_um" not in inspections:
        return None
    doubt = inspections["piece_u_um"].to_numpy(dtype=float)
    names = inspections["piece"].where(doubt > 0)
    fixed = len(likelihood.coupling.fixed)
    total = np.zeros((fixed, fixed))
    shared = names.value_counts()
    for name, readings in shared[shared > 1].sort_index().items():
        mine = names.eq(str(name)).to_numpy(dtype=bool)
        blocks = []
        for block in likelihood.data.blocks:
            mean = np.zeros_like(block.mean)
            mean[..., -1] = mine[block.inspection] * (block.count[..., -1] > 0)
            blocks.append(replace(block, mean=mean))
        off = WidthLikelihood(replace(likelihood.data, blocks=tuple(blocks)), likelihood.coupling)
        response = off.means(variances)[1][:fixed]
        total += float(np.mean(doubt[mine] ** 2)) * (1 - 1 / int(readings)) * np.outer(response, response)
    return total if total.any() else None
