"""What random or grouped pairs of hub and shaft come to: chances of a clearance, selective assembly, stock in steps.

The splines of one part are strongly correlated (one cutter, one setting), so a probability here is that of a *pair*;
it is never raised to the number of splines.

References
----------
.. [1] E. M. Mansoor, "Selective assembly: its analysis and applications", International Journal of Production
       Research 1:1, 1961. The ranges and drifts below are derived for equal steps.
.. [2] D. Mease, V. N. Nair, A. Sudjianto, "Selective assembly in manufacturing", Technometrics 46:2, 2004.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from wearstats.domain.arrays import FloatArray
from wearstats.domain.tolerances.limits_fits import Fit


def _trapezoid_cdf(above_least: FloatArray, first: float, second: float) -> FloatArray:
    """Give P(sum of two uniforms on [0, first] and [0, second] <= x); both widths over 0."""

    def squared(excess: FloatArray) -> FloatArray:
        return np.asarray(np.maximum(excess, 0.0) ** 2)

    x = np.minimum(above_least, first + second)  # beyond the range the four squares cancel badly
    area = squared(x) - squared(x - first) - squared(x - second) + squared(x - first - second)
    return np.asarray(area / (2 * first * second))


def clearance_probability_uniform(fit: Fit, at_most_um: FloatArray | float) -> FloatArray:
    """Compute the chance of a clearance where both parts are uniform within their limits.

    Parameters
    ----------
    fit : Fit
        Limits of both parts.
    at_most_um : float or ndarray, any shape
        Clearance in micrometres; 0 asks for the chance of interference.

    Returns
    -------
    ndarray, same shape
        P(clearance <= `at_most_um`), the trapezoid law.
    """
    above = np.asarray(at_most_um, dtype=np.float64) - fit.low_um
    return _trapezoid_cdf(above, fit.hub.tolerance_um, fit.shaft.tolerance_um)


def clearance_probability_normal(fit: Fit, at_most_um: float) -> float:
    """Compute the chance of a clearance where both parts are normal, centred, with a tolerance of six sigma.

    Parameters
    ----------
    fit : Fit
        Limits of both parts.
    at_most_um : float
        Clearance in micrometres; 0 asks for the chance of interference.

    Returns
    -------
    float
        P(clearance <= `at_most_um`).
    """
    sd_um = math.hypot(fit.hub.tolerance_um, fit.shaft.tolerance_um) / 6
    return NormalDist(fit.mean_um, sd_um).cdf(at_most_um)


def interference_probability(hub: NormalDist, shaft: NormalDist) -> float:
    """Compute P(hub < shaft) of independent normal sizes, both in one unit."""
    return (hub - shaft).cdf(0.0)


def probability_at_most(count: int, *, of: int, each: float) -> float:
    """Compute the chance that at most `count` of `of` independent pairs go wrong, each with chance `each`."""
    return sum(math.comb(of, k) * each**k * (1 - each) ** (of - k) for k in range(count + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """Selective assembly: both parts sorted into the same number of classes, like paired with like.

    Parameters
    ----------
    hub_tolerance_um, shaft_tolerance_um : float
        Widths of the two zones in micrometres, both over 0.
    classes : int
        Number of classes, 1 for no sorting.
    """

    hub_tolerance_um: float
    shaft_tolerance_um: float
    classes: int

    @property
    def range_um(self) -> float:
        """Range of clearance within a class: the sum of the tolerances over the number of classes."""
        return (self.hub_tolerance_um + self.shaft_tolerance_um) / self.classes

    @property
    def drift_um(self) -> float:
        """How far the mean clearance moves from class to class; nought only for equal tolerances."""
        return (self.hub_tolerance_um - self.shaft_tolerance_um) / self.classes

    def probability_within(self, half_width_um: float) -> float:
        """Compute the chance that a clearance lies within `half_width_um` of the overall mean.

        Parts are uniform within their zones and the classes equally frequent.
        """
        class_mean = (np.arange(self.classes) - (self.classes - 1) / 2) * self.drift_um
        least: FloatArray = np.asarray(class_mean - self.range_um / 2, dtype=np.float64)
        widths = (self.hub_tolerance_um / self.classes, self.shaft_tolerance_um / self.classes)
        inside = _trapezoid_cdf(half_width_um - least, *widths) - _trapezoid_cdf(-half_width_um - least, *widths)
        return float(inside.mean())


def mean_excess_uniform_um(wear_range_um: float, sizes: int) -> float:
    """Compute how much too tight hubs are on average when wear is uniform and sizes are equally spaced.

    Parameters
    ----------
    wear_range_um : float
        Range over which wear is uniform, in micrometres.
    sizes : int
        Number of undersizes kept; every shaft gets the next tighter one.

    Returns
    -------
    float
        ``range / (2 sizes)`` micrometres, the least that so many sizes can reach.
    """
    return wear_range_um / (2 * sizes)
