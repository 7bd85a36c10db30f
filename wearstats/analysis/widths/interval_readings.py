"""Coarsely rounded readings as intervals in the width model, by Gaussian stand-ins of equal weight.

Taking rounding for independent noise of variance step^2 / 12 a reading is right while the readings of an inspection
scatter by much of a step. When the step is more than `COARSE` times the repeatability, the rounding errors of nearby
places are nearly the same and do not average out. Such a reading says that the width, as it would have been read, lay
within half a step of the value shown. Expectation propagation [1]_ replaces each of these intervals by a Gaussian
*site* (a mean and a variance) that acts on the unit's map as the interval does; the linear model then takes the sites
for readings, with the site's variance where step^2 / 12 stood.

At the sites' fixed point the slope of the likelihood by the components is that with the sites held [2]_, so fitting and
placing sites in turn climbs the likelihood of the intervals.

References
----------
.. [1] T. Minka, Expectation propagation for approximate Bayesian inference, UAI 2001, 362-369.
.. [2] M. Seeger, Expectation propagation for exponential families, 2005, section on the free energy's gradient.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy import special

from wearstats.analysis.widths.components import COMPONENTS, map_factor
from wearstats.analysis.widths.data import CLASSES, WidthBlock, WidthData
from wearstats.domain.arrays import BoolArray, FloatArray

COARSE = 2.5
"""Steps above this many repeatabilities are treated as intervals.

Below it, rounding errors of two readings of one and the same place are correlated by less than 0.2 %
(`error_correlation`).
"""
UnitPrior = Callable[[WidthBlock], tuple[FloatArray, FloatArray]]
"""From a block to the prior mean of every slot as read, (units, inspections, slots), and the covariance of the
inspections' biases, (units, inspections, inspections)."""

_REPEATABILITY = len(COMPONENTS) - len(CLASSES)
_WIDEST = 1e6
"""Largest site variance in squared steps: such a site says nothing."""
_LEAST_REPEATABILITY = 0.02
"""Least repeatability in steps that sites are placed with."""
_TOGETHER = 64
"""Units worked on at once, so that their matrices stay small."""
_NODES, _WEIGHTS = special.roots_legendre(40)


def coarse_inspections(data: WidthData, variances: FloatArray) -> BoolArray:
    """Tell which inspections were read in steps too coarse for the simple correction, shape (inspections,)."""
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    return np.asarray(steps > COARSE * np.sqrt(variances[_REPEATABILITY + data.class_index]))


def error_correlation(scatter_um: float, step_um: float) -> float:
    """Correlation of the rounding errors of two readings of normal scatter, wherever their mean lies between steps.

    Parameters
    ----------
    scatter_um : float
        Standard deviation of one reading about the other's expectation, without what they share.
    step_um : float
        Resolution.

    Notes
    -----
    The error is a sawtooth with Fourier coefficients proportional to 1/k; harmonic k keeps the share
    exp(-4 pi^2 k^2 sd^2 / step^2) of its power in the product of two readings, and 6 / pi^2 sums 1/k^2 to one.
    """
    k = np.arange(1, 2000)
    return float(6 / np.pi**2 * np.sum(np.exp(-((2 * np.pi * k * scatter_um / step_um) ** 2)) / k**2))


def without_coarse_within(data: WidthData, variances: FloatArray) -> WidthData:
    """Drop the inner sums of squares of coarse gauges: they are not repeatability plus step^2 / 12."""
    within = data.within
    kinds = np.array([CLASSES.index(name) for name in within["class"]], dtype=np.int64)
    fine = within["step_um"].to_numpy(dtype=float) <= COARSE * np.sqrt(variances[_REPEATABILITY + kinds])
    return replace(data, within=within[fine].reset_index(drop=True))


def place_sites(
    data: WidthData, variances: FloatArray, prior: UnitPrior, coarse: BoolArray, *, rounds: int = 60
) -> WidthData:
    """Replace the readings of coarse inspections by sites.

    Parameters
    ----------
    data : WidthData
        The readings as shown.
    variances : ndarray, shape (13,)
        Components, um^2.
    prior : callable
        See `UnitPrior`.
    coarse : ndarray of bool, shape (inspections,)
        Which to replace.
    rounds : int
        Most passes over the sites.

    Returns
    -------
    WidthData
        With the sites' means for the coarse readings and their variances in ``rounding``; units without a coarse
        inspection keep their arrays' values.

    Notes
    -----
    Several readings of one place enter as their mean, which lies within half a step of the mean shown whatever the
    single ones were: true, if a little less than they say. Averages over splines that could not be matched stay
    Gaussian, with the rounding errors' correlation between splines allowed for.
    """
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    repeatability = variances[_REPEATABILITY + data.class_index]
    blocks = []
    for block in data.blocks:
        hit = coarse[block.inspection]
        if not hit.any():
            blocks.append(block)
            continue
        step = steps[block.inspection][..., None]
        rounding = np.broadcast_to(step**2 / 12, block.count.shape).copy()
        mean = block.mean.copy()
        repeat = repeatability[block.inspection][..., None]
        # with none at all, intervals of two inspections could contradict each other
        repeat = np.maximum(repeat, (_LEAST_REPEATABILITY * step) ** 2)
        averages = slice(block.shape.places, block.shape.slots - 1)
        n = np.maximum(block.count, 1.0)
        noise = repeat
        if block.piece_um2 is not None:
            # the piece's own size is in doubt before anything is rounded
            noise = np.broadcast_to(repeat, block.count.shape).copy()
            noise[..., -1] += block.piece_um2
        single = repeat + variances[COMPONENTS.index("spline")] + variances[COMPONENTS.index("cell")]
        shared = _correlations(np.sqrt(single), step, hit)
        rounding[..., averages] *= 1 + (n[..., averages] - 1) * shared
        told = hit[..., None] & (block.count > 0)
        told[..., averages] = False
        hits = np.flatnonzero(told.any(axis=(1, 2)))
        level, bias = prior(block)
        for start in range(0, hits.size, _TOGETHER):
            units = hits[start : start + _TOGETHER]
            mean[units], variance = _propagate(
                block, units, told[units], mean[units], rounding[units] / n[units], (noise / n)[units],
                np.broadcast_to(step, mean.shape)[units], level[units], bias[units], variances, rounds,
            )  # fmt: skip
            rounding[units] = variance * n[units]
        blocks.append(replace(block, mean=mean, rounding=rounding))
    return replace(data, blocks=tuple(blocks))


def _correlations(scatter: FloatArray, step: FloatArray, hit: BoolArray) -> FloatArray:
    """Correlation of rounding errors by inspection, shape (units, inspections, 1); zero where not coarse."""
    ratio = np.where(hit[..., None] & (step > 0), scatter / np.where(step > 0, step, 1.0), np.inf)
    kinds, where = np.unique(ratio, return_inverse=True)
    return np.array([error_correlation(float(kind), 1.0) for kind in kinds])[where].reshape(ratio.shape)


def _propagate(
    block: WidthBlock,
    units: np.ndarray[tuple[int], np.dtype[np.int64]],
    told: BoolArray,
    shown: FloatArray,
    site: FloatArray,
    noise: FloatArray,
    step: FloatArray,
    level: FloatArray,
    bias: FloatArray,
    variances: FloatArray,
    rounds: int,
) -> tuple[FloatArray, FloatArray]:
    """Iterate the sites of some units in parallel; all arrays (units, inspections, slots) of slot means.

    Returns the sites' means and variances; where not told, what was given.
    """
    factor = map_factor(block.shape, variances)
    inspections = bias.shape[1]
    size = inspections * block.shape.slots
    # what the unit's readings share: the map, the same in every inspection, and the biases, the same in every slot
    values, vectors = np.linalg.eigh(bias)
    roots = np.repeat(vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :], block.shape.slots, axis=1)
    maps = np.broadcast_to(np.tile(factor, (inspections, 1)), (units.size, size, factor.shape[1]))
    causes = np.concatenate([maps, roots], axis=2)
    seen = (block.count[units] > 0).reshape(-1, size)
    told = told.reshape(-1, size)
    shown, noise, step, level = (array.reshape(-1, size) for array in (shown, noise, step, level))
    mean, site = shown.copy(), site.reshape(-1, size).copy()
    identity = np.eye(causes.shape[2])
    precision = np.divide(1.0, site, out=np.zeros_like(site), where=told)
    pull = precision * mean
    for _ in range(rounds):
        weight = np.where(seen, 1 / (noise + site), 0.0)
        weighted = np.swapaxes(causes * weight[..., None], 1, 2)
        spread = causes @ np.linalg.inv(identity + weighted @ causes)
        variance = np.maximum(np.sum(spread * causes, axis=2), 1e-12)
        posterior_mean = level + (spread @ (weighted @ (mean - level)[..., None]))[..., 0]
        # without the site itself: the cavity, for the width as it would have been read
        left = np.maximum(1 / variance - weight, 1e-12)
        cavity_mean = (posterior_mean / variance - weight * mean) / left
        cavity = 1 / left + noise
        middle, width = cavity_mean.copy(), cavity.copy()
        middle[told], width[told] = _truncated(cavity_mean[told], cavity[told], shown[told], step[told])
        fresh = np.maximum(1 / width - 1 / cavity, 1 / (_WIDEST * np.maximum(step, 1e-3) ** 2))
        fresh_pull = middle / width - cavity_mean / cavity
        moved = np.where(told, np.abs(fresh - precision) * width + np.abs(fresh_pull - pull) * np.sqrt(width), 0.0)
        precision = np.where(told, 0.3 * precision + 0.7 * fresh, precision)
        pull = np.where(told, 0.3 * pull + 0.7 * fresh_pull, pull)
        site = np.where(told, 1 / np.where(told, precision, 1.0), site)
        mean = np.where(told, pull * site, mean)
        if float(moved.max()) < 1e-4:
            break
    return mean.reshape(-1, inspections, block.shape.slots), site.reshape(-1, inspections, block.shape.slots)


def _truncated(
    mean: FloatArray, variance: FloatArray, middle: FloatArray, step: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of normals cut to within half a step of a middle, by Gauss-Legendre quadrature.

    The density over the interval is smooth, and quadrature does not cancel far out as the closed form does.
    """
    nodes, weights = _NODES, _WEIGHTS
    # the density falls from the point of the interval nearest to the mean: nodes reach ten of its lengths from there
    low, high = middle - step / 2, middle + step / 2
    sd = np.sqrt(variance)
    peak = np.clip(mean, low, high)
    gap = np.abs(peak - mean)
    reach = np.where(gap > 0, np.minimum(9 * sd, 40 * variance / np.maximum(gap, 1e-9)), 9 * sd)
    low, high = np.maximum(low, peak - reach), np.minimum(high, peak + reach)
    half = np.maximum((high - low) / 2, 1e-9)
    at = ((low + high) / 2)[..., None] + half[..., None] * nodes
    exponent = -((at - mean[..., None]) ** 2) / (2 * variance[..., None])
    chance = weights * np.exp(exponent - exponent.max(axis=-1, keepdims=True))
    chance /= chance.sum(axis=-1, keepdims=True)
    first = np.sum(chance * at, axis=-1)
    return first, np.maximum(np.sum(chance * (at - first[..., None]) ** 2, axis=-1), 1e-10)
