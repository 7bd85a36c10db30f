"""Deciding against a limit with a measured value that is not sure: combined uncertainty, guard bands, conformance.

References
----------
.. [1] JCGM 100:2008 (GUM), 5.1.2 (combining), 4.3.7 (rectangular limits), 4.2.3 (mean of n readings).
.. [2] ISO 14253-1: acceptance within a zone made smaller by a guard band; 1.65 u for a 5 % risk at a one-sided limit.
.. [3] JCGM 106:2012, 7.2 (one-sided) and 7.4 (two-sided): conformance probability of a normally known quantity.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from wearstats.domain.arrays import FloatArray
from wearstats.errors import InputError, Problem

GUARD_FACTOR = 1.65
"""Standard uncertainties between limit and acceptance limit: at most 5 % accepted wrongly at a one-sided limit [2]_."""

STEEL_PPM_PER_K = 11.5
"""Thermal expansion of steel, parts in a million a kelvin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One source of doubt.

    Parameters
    ----------
    source : str
        What it is, in plain words.
    u_um : float
        Its standard uncertainty in um.
    sensitivity : float
        What a change of one um in it does to the result.
    readings : int
        Independent readings averaged; divides repeatability and rounding, never a bias that they share.
    """

    source: str
    u_um: float
    sensitivity: float = 1.0
    readings: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be an uncertainty."""
        _at_least_zero(self.source, self.u_um)
        if self.readings < 1:
            raise InputError(
                Problem(place=f"{self.source}, readings", found=f"'{self.readings}' readings", allowed="1 or more")
            )

    @property
    def variance_um2(self) -> float:
        """Its part of the variance of the result, um^2."""
        return (self.sensitivity * self.u_um) ** 2 / self.readings


def rectangular_um(half_width_um: float) -> float:
    """Give the standard uncertainty of a value anywhere within +- `half_width_um` alike [1]_."""
    _at_least_zero("half width", half_width_um)
    return half_width_um / math.sqrt(3)


def rounding_um(step_um: float) -> float:
    """Give the standard uncertainty of reading to the nearest `step_um` [1]_."""
    _at_least_zero("step", step_um)
    return step_um / math.sqrt(12)


def expansion_um(size_mm: float, kelvin: float) -> float:
    """Give how much a steel part of `size_mm` grows, in um, when `kelvin` warmer."""
    return size_mm * kelvin * STEEL_PPM_PER_K * 1e-3


def combined_um(contributions: Sequence[Contribution]) -> float:
    """Combine independent contributions to one standard uncertainty in um [1]_."""
    return math.sqrt(math.fsum(part.variance_um2 for part in contributions))


def acceptance_limits_um(
    *, low_um: float | None = None, high_um: float | None = None, u_um: float, guard_factor: float = GUARD_FACTOR
) -> tuple[float | None, float | None]:
    """Draw the limits in by a guard band: what is read between the new ones may be accepted [2]_.

    Parameters
    ----------
    low_um, high_um : float or None
        Limits of the true value; None: no limit on that side.
    u_um : float
        Standard uncertainty of the reading.
    guard_factor : float
        Width of the guard band in standard uncertainties.

    Returns
    -------
    tuple of float or None
        Low and high acceptance limit.

    Raises
    ------
    InputError
        Without a limit, or when the guard bands leave no room: then no reading this unsure can be accepted.
    """
    _check_limits(low_um, high_um, u_um)
    guard = guard_factor * u_um
    low = None if low_um is None else low_um + guard
    high = None if high_um is None else high_um - guard
    if low is not None and high is not None and low > high:
        raise InputError(
            Problem(
                place="guard bands",
                found=f"2 x {guard:.4g} um is wider than the limits {low_um:g} to {high_um:g} um",
                allowed="bands that leave room between the limits",
                next_step="measure with a smaller uncertainty",
            )
        )
    return low, high


def conformance_probability(
    read_um: ArrayLike, *, u_um: float, low_um: float | None = None, high_um: float | None = None
) -> FloatArray:
    """Give the probability that the true value lies within the limits, given what was read [3]_.

    Parameters
    ----------
    read_um : array_like
        What was read, in um (any shape); known to a normal distribution, with nothing known beforehand.
    u_um : float
        Its standard uncertainty.
    low_um, high_um : float or None
        Limits of the true value; None: no limit on that side.

    Returns
    -------
    ndarray
        Probabilities in the shape of `read_um`; a limit itself conforms.

    Raises
    ------
    InputError
        Without a limit, with limits the wrong way round, or with a negative uncertainty.
    """
    _check_limits(low_um, high_um, u_um)
    read = np.asarray(read_um, dtype=float)
    low = -np.inf if low_um is None else low_um
    high = np.inf if high_um is None else high_um
    if u_um == 0:
        return np.asarray((read >= low) & (read <= high), dtype=float)
    above, below = (low - read) / u_um, (high - read) / u_um
    # in the lower tail of either side, so that small probabilities keep their digits
    flip = above > 0
    start, end = np.where(flip, -below, above), np.where(flip, -above, below)
    return np.asarray(ndtr(end) - ndtr(start), dtype=float)


def _at_least_zero(what: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise InputError(Problem(place=what, found=f"'{value}' um", allowed="a number, 0 or more"))


def _check_limits(low_um: float | None, high_um: float | None, u_um: float) -> None:
    _at_least_zero("standard uncertainty", u_um)
    if low_um is None and high_um is None:
        raise InputError(Problem(place="limits", found="none", allowed="a low limit, a high one, or both"))
    if low_um is not None and high_um is not None and low_um > high_um:
        raise InputError(
            Problem(place="limits", found=f"low {low_um:g} above high {high_um:g} um", allowed="low below high")
        )
