"""How the shape along a spline goes with the depth of wear: whether hollows and tapers get deeper as shafts wear.

References
----------
.. [1] W. A. Fuller, Measurement Error Models, Wiley 1987, 1.2: regression on a quantity read with known error.
.. [2] R. J. Carroll et al., Measurement Error in Nonlinear Models, 2nd ed., 2006, chapter 4: regression calibration.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray

LEAST_SHAFTS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeWithDepth:
    """A line through the shapes of shafts.

    Parameters
    ----------
    at_mean_um : Estimate
        The hollow (or taper) of a shaft of mean wear.
    per_10_um : Estimate
        How much it changes with 10 um more mean wear.
    """

    at_mean_um: Estimate
    per_10_um: Estimate


def shape_with_depth(
    shape_um: FloatArray,
    shape_sd_um: FloatArray,
    wear_um: FloatArray,
    wear_sd_um: FloatArray,
) -> ShapeWithDepth:
    """Fit how a shape goes with wear, both read with known errors that are independent of each other.

    Parameters
    ----------
    shape_um, shape_sd_um : ndarray, shape (shafts,)
        Hollow or taper as read, and the standard deviation of its error.
    wear_um, wear_sd_um : ndarray, shape (shafts,)
        Mean wear as read, and the standard deviation of its error.

    Returns
    -------
    ShapeWithDepth
        With status ``none`` for fewer than `LEAST_SHAFTS` shafts or without differences in wear.
    """
    if shape_um.size < LEAST_SHAFTS:
        none = no_estimate(remark(WearRemark.SHAPE_FEW_SHAFTS, shafts=shape_um.size))
        return ShapeWithDepth(at_mean_um=none, per_10_um=none)
    centre, truth = _spread(wear_um, wear_sd_um**2)
    if truth <= 0:
        none = no_estimate(remark(WearRemark.SHAPE_ALIKE))
        return ShapeWithDepth(at_mean_um=none, per_10_um=none)
    line, own, score = _line(shape_um, shape_sd_um, wear_um - centre, wear_sd_um, truth)
    # the reliability is estimated too: each shaft moves the line by its residual, and by what its wear adds to the
    # true variance, together, since both may come from the same reading ([1], 1.2.2)
    step = 1e-4 * truth
    higher, lower = (
        _line(shape_um, shape_sd_um, wear_um - centre, wear_sd_um, tried, own=own)[0]
        for tried in (truth + step, truth - step)
    )
    of_truth = ((wear_um - centre) ** 2 - wear_sd_um**2 - truth) / (wear_um.size - 1)
    influence = score + of_truth[:, None] * (higher - lower) / (2 * step)
    se = np.sqrt(np.sum(influence**2, axis=0))
    times = float(special.stdtrit(shape_um.size - 2, 0.975))
    method = remark(WearRemark.SHAPE_LINE)

    def estimate(k: int, scale: float) -> Estimate:
        value, spread = float(line[k]) * scale, times * float(se[k]) * scale
        return Estimate(value=value, low=value - spread, high=value + spread, method=method)

    return ShapeWithDepth(at_mean_um=estimate(0, 1.0), per_10_um=estimate(1, 10.0))


def _line(
    shape_um: FloatArray,
    shape_sd_um: FloatArray,
    from_mean_um: FloatArray,
    wear_sd_um: FloatArray,
    truth: float,
    own: float | None = None,
) -> tuple[FloatArray, float, FloatArray]:
    """Fit the line given the true variance of wear, and that of shapes about it, estimated where it is not given.

    Returns the line (2,), the variance about it, and what each shaft adds to the line's error (shafts, 2).
    """
    # wear drawn to the mean by its reliability: the slope on it is that on the true wear [2]
    known = truth / (truth + wear_sd_um**2) * from_mean_um
    design = np.stack([np.ones_like(known), known], axis=1)
    spread = max(float(shape_um.var()), 1e-12) if own is None else own
    for _ in range(20 if own is None else 1):
        weight = 1 / (shape_sd_um**2 + spread)
        inverse = np.linalg.inv((design.T * weight) @ design)
        line = inverse @ ((design.T * weight) @ shape_um)
        residual = shape_um - design @ line
        if own is None:
            spread = max(float(np.average(residual**2 - shape_sd_um**2, weights=weight**2)), 1e-12)
    lever = np.einsum("ij,jk,ik->i", design, inverse, design) * weight
    # residuals freed of what each took along with the line (HC3), whatever the spread's law
    return line, spread, (design * (weight * residual / (1 - lever))[:, None]) @ inverse


def _spread(values: FloatArray, error_variance: FloatArray) -> tuple[float, float]:
    """Mean and true variance of values read with known error (moments)."""
    weight = 1 / (error_variance + max(float(values.var(ddof=1)) - float(error_variance.mean()), 1e-9))
    centre = float(np.average(values, weights=weight))
    size = values.size
    return centre, float(np.sum((values - centre) ** 2) / (size - 1) - error_variance.mean())
