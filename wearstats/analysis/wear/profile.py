"""How the shape along a spline goes with the depth of wear: whether hollows and tapers get deeper as shafts wear.

References
----------
.. [1] W. A. Fuller, Measurement Error Models, Wiley 1987, 1.2: regression on a quantity read with known error.
.. [2] R. J. Carroll et al., Measurement Error in Nonlinear Models, 2nd ed., 2006, chapter 4: regression calibration.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Z95, Estimate, no_estimate
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
    # wear drawn to the mean by its reliability: the slope on it is that on the true wear [2]
    known = truth / (truth + wear_sd_um**2) * (wear_um - centre)
    design = np.stack([np.ones_like(known), known], axis=1)
    own = max(float(shape_um.var()), 1e-12)
    for _ in range(20):
        weight = 1 / (shape_sd_um**2 + own)
        inverse = np.linalg.inv((design.T * weight) @ design)
        line = inverse @ ((design.T * weight) @ shape_um)
        residual = shape_um - design @ line
        own = max(float(np.average(residual**2 - shape_sd_um**2, weights=weight**2)), 1e-12)
    lever = np.einsum("ij,jk,ik->i", design, inverse, design) * weight
    # residuals freed of what each took along with the line (HC3), whatever the spread's law
    score = design * (weight * residual / (1 - lever))[:, None]
    covariance = inverse @ (score.T @ score) @ inverse
    se = np.sqrt(np.diag(covariance))
    method = remark(WearRemark.SHAPE_LINE)

    def estimate(k: int, scale: float) -> Estimate:
        value, spread = float(line[k]) * scale, Z95 * float(se[k]) * scale
        return Estimate(value=value, low=value - spread, high=value + spread, method=method)

    return ShapeWithDepth(at_mean_um=estimate(0, 1.0), per_10_um=estimate(1, 10.0))


def _spread(values: FloatArray, error_variance: FloatArray) -> tuple[float, float]:
    """Mean and true variance of values read with known error (moments)."""
    weight = 1 / (error_variance + max(float(values.var(ddof=1)) - float(error_variance.mean()), 1e-9))
    centre = float(np.average(values, weights=weight))
    size = values.size
    return centre, float(np.sum((values - centre) ** 2) / (size - 1) - error_variance.mean())
