"""The one geometry: where a hub meets a worn shaft, and what it leaves.

A hub passes every place between the nut end and where it comes to rest, so the widest place met on the way in decides
what must come off the hub, and what came off is missing at every narrower place behind it. All lengths are in
micrometres unless a name says otherwise; widths and spaces may be measured from any common zero (for instance "below
the new width", negative), since only their differences enter.

Three shares are kept apart, since they answer different questions: how many splines touch (`count_share`), how much
of the flanks bears (`area_share`, and `contact_share` from a map), and how evenly the load is spread (`load_share`).

References
----------
.. [1] ANSI B92.1 and ISO 4156 distinguish actual from effective clearance on involute splines; carried over to
       straight ones here (derived).
.. [2] K. Chase, C. Sorensen, B. DeCaires, "Variation analysis of tooth engagement and load sharing in involute
       splines", AGMA 09FTM17, 2009; abstract read, formula derived.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wearstats.domain.arrays import FloatArray

CONTACT_LIMIT_UM = 5.0
"""Gap up to which a place counts as bearing: about what a smear of marking compound bridges (judgement, no source)."""

PLAY_LIMIT_UM = 25.4
"""0.001 in of play is too much (common practice, no source): a limit on play, never on the mean gap."""


def way_in(width_um: FloatArray) -> FloatArray:
    """Widest width that each place's hub space has passed on its way there.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths; the last axis runs from the shoulder to the nut end.

    Returns
    -------
    ndarray, same shape
        ``max(width[..., j:])``, the widest from the nut end up to and with station j.
    """
    # station by station: an axis of three places is too short to accumulate along
    widest = np.array(width_um, dtype=float)
    for station in range(widest.shape[-1] - 2, -1, -1):
        np.maximum(widest[..., station], widest[..., station + 1], out=widest[..., station])
    return widest


def filing(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give what must come off the hub at each place (or is forced, where it is driven on as supplied).

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray broadcastable against `width_um`
        Width of the hub's spaces from the same zero.

    Returns
    -------
    ndarray, broadcast shape
        Never negative.
    """
    return np.maximum(way_in(width_um) - space_um, 0.0)


def gap_left(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give what is left over both flanks at each place once the hub stands home.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray broadcastable against `width_um`
        Width of the hub's spaces from the same zero.

    Returns
    -------
    ndarray, broadcast shape
        ``max(space, way_in) - width``, never negative; a hollow keeps its floor ``way_in - width`` under any hub.
    """
    return np.maximum(way_in(width_um), space_um) - width_um


def gap_floor(width_um: FloatArray) -> FloatArray:
    """Give the gap that no hub cures, however tight.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths; the last axis runs from the shoulder to the nut end.

    Returns
    -------
    ndarray, same shape
        ``way_in - width``, never negative: what a hub that just passes the widest place on the way in leaves here.
    """
    return way_in(width_um) - width_um


def deepest_hollow(width_um: FloatArray) -> FloatArray:
    """Give the largest gap that no hub cures.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.

    Returns
    -------
    ndarray, shape (...)
        Largest `gap_floor` of the shaft. A shaft is judged by this and not by its mean width.
    """
    return np.asarray(gap_floor(width_um).max(axis=(-2, -1)))


def clearance(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give the clearance of a hub: space less mean width.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray, shape (...)
        One space width for the whole hub.

    Returns
    -------
    ndarray, shape (...)
        Negative is interference.
    """
    return np.asarray(space_um - width_um.mean(axis=(-2, -1)))


def mean_gap_left(width_um: FloatArray, space_um: FloatArray | float) -> FloatArray:
    """Give the mean of `gap_left` over all cells of a shaft.

    Parameters
    ----------
    width_um : ndarray, shape (..., splines, stations)
        True widths.
    space_um : float or ndarray broadcastable against `width_um`
        Width of the hub's spaces; one value for each of several shafts has the shape (..., 1, 1).

    Returns
    -------
    ndarray, shape (...)
        Never negative; the gap on which working loose is modelled.
    """
    return np.asarray(gap_left(width_um, space_um).mean(axis=(-2, -1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitSums:
    """What a hub does on a shaft, summed over its places; arrays of shape (...), um.

    Parameters
    ----------
    gap_left_um : ndarray
        Mean of `gap_left`.
    total_filing_um, largest_filing_um : ndarray
        Sum and largest of `filing`.
    smallest_gap_um : ndarray
        Smallest of `gap_left`, the most play that the fitted hub can have: 0 where anything has to come off.
    gripped_share : ndarray
        Share of splines whose widest place is no narrower than the space.
    """

    gap_left_um: FloatArray
    total_filing_um: FloatArray
    largest_filing_um: FloatArray
    smallest_gap_um: FloatArray
    gripped_share: FloatArray


def sum_up_fit(way_in_um: FloatArray, mean_width_um: FloatArray, space_um: FloatArray) -> FitSums:
    """Sum up what a hub does where only sums are wanted and many hubs are tried on the same shafts.

    Parameters
    ----------
    way_in_um : ndarray, shape (..., splines, stations)
        As `way_in` gives it.
    mean_width_um : ndarray, shape (...)
        Mean width of each shaft.
    space_um : ndarray, shape (...)
        One space for the whole hub.

    Returns
    -------
    FitSums
        With ``max(space, way_in) = space + filing`` the mean gap left is the space and the mean filing less the mean
        width.
    """
    off = np.maximum(way_in_um - space_um[..., None, None], 0.0)
    total = off.sum(axis=(-2, -1))
    # what has to come off at the shoulder is the most of its spline, for the way in leads past all its places
    most = off[..., 0]
    return FitSums(
        gap_left_um=space_um + total / (way_in_um.shape[-2] * way_in_um.shape[-1]) - mean_width_um,
        total_filing_um=total,
        largest_filing_um=most.max(axis=-1),
        smallest_gap_um=np.maximum(space_um - way_in_um[..., 0].max(axis=-1), 0.0),
        gripped_share=(way_in_um[..., 0] >= space_um[..., None]).mean(axis=-1),
    )


def contact_share(gap_left_um: FloatArray, *, limit_um: float = CONTACT_LIMIT_UM) -> FloatArray:
    """Give the share of places that bear.

    Parameters
    ----------
    gap_left_um : ndarray, shape (..., splines, stations)
        What `gap_left` gives.
    limit_um : float
        Gap up to which a place counts as bearing.

    Returns
    -------
    ndarray, shape (...)
        Between 0 and 1.
    """
    return np.asarray((gap_left_um <= limit_um).mean(axis=(-2, -1)))


def count_share(touched: NDArray[np.bool_]) -> FloatArray:
    """Give the share of splines that touch.

    Parameters
    ----------
    touched : ndarray of bool, shape (..., splines)
        Whether each spline bears a mark.

    Returns
    -------
    ndarray, shape (...)
    """
    return np.asarray(touched.mean(axis=-1))


def area_share(burnished_mm2: FloatArray | float, nominal_mm2: FloatArray | float) -> FloatArray:
    """Give the burnished area as a share of the nominal flank area, cut at 1; arrays of any one shape."""
    return np.asarray(np.minimum(np.divide(burnished_mm2, nominal_mm2), 1.0))


def load_share(load: FloatArray) -> FloatArray:
    """Give how evenly the splines carry.

    Parameters
    ----------
    load : ndarray, shape (..., splines)
        Loads in any unit, not negative.

    Returns
    -------
    ndarray, shape (...)
        ``(sum load)^2 / (N sum load^2)``: 1 where all carry alike, 1/N where one carries all, NaN without any load.
    """
    total = load.sum(axis=-1)
    squares = (load**2).sum(axis=-1)
    even = np.full(np.shape(total), np.nan)
    return np.asarray(np.divide(total**2, load.shape[-1] * squares, out=even, where=squares > 0))


def play(clearance_um: FloatArray, index_error_um: FloatArray | float = 0.0) -> FloatArray:
    """Give the play of a hub: how far it can be turned to and fro, at the flanks' mean radius.

    Parameters
    ----------
    clearance_um : ndarray, shape (..., splines)
        Total clearance of each spline, both flanks together.
    index_error_um : float or ndarray, shape (..., splines)
        How far each spline stands from its place on the circle, hub and shaft together.

    Returns
    -------
    ndarray, shape (...)
        ``J = min(c/2 - e) + min(c/2 + e)``, never more than the smallest clearance [1]_; negative where the set
        interferes. The tightest splines govern: a slack one does not rattle beside a tight one, but carries nothing.
    """
    one_way = clearance_um / 2 - index_error_um
    other_way = clearance_um / 2 + index_error_um
    return np.asarray(one_way.min(axis=-1) + other_way.min(axis=-1))


def play_bound(gap_left_um: FloatArray) -> FloatArray:
    """Give the most play that a fitted hub can have, index errors unknown.

    Parameters
    ----------
    gap_left_um : ndarray, shape (..., splines, stations)
        What `gap_left` gives.

    Returns
    -------
    ndarray, shape (...)
        The smallest gap. Measured play, where recorded, overrides it.
    """
    return np.asarray(gap_left_um.min(axis=(-2, -1)))


def play_angle_mrad(play_um: FloatArray | float, mean_radius_mm: float) -> FloatArray:
    """Give the angle of play in milliradians: micrometres over millimetres."""
    return np.asarray(np.divide(play_um, mean_radius_mm))


@lru_cache
def expected_largest_normal(splines: int) -> float:
    """Give the mean of the largest of so many independent standard normal values, to ten decimals."""
    x = np.linspace(-12.0, 12.0, 2401)
    below = np.array([math.erfc(-value / math.sqrt(2)) / 2 for value in x])
    density = splines * below ** (splines - 1) * np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)
    # an even sum over a density that dies out smoothly at both ends converges faster than any power of the step
    return float((x * density).sum() * (x[1] - x[0]))


def expected_play(mean_um: float, clearance_sd_um: float, index_sd_um: float, splines: int) -> float:
    """Compute the mean play of random hubs.

    Parameters
    ----------
    mean_um : float
        Mean clearance of a spline.
    clearance_sd_um, index_sd_um : float
        Spreads of clearance and index error between the splines of a set, independent and normal.
    splines : int
        Number of splines.

    Returns
    -------
    float
        ``c0 - 2 z_N sqrt(sc^2/4 + se^2)``, z_N the mean of the largest of N standard normal values.
    """
    one_way_sd = math.hypot(clearance_sd_um / 2, index_sd_um)
    return mean_um - 2 * expected_largest_normal(splines) * one_way_sd


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadSharing:
    """How the splines of a set share a force.

    Parameters
    ----------
    load_n : ndarray, shape (..., splines)
        Load on each spline, in newtons; they add up to the force.
    delta_um : ndarray, shape (...)
        How far the hub turns on, at the mean radius, from the first touch.
    engaged : ndarray of int, shape (...)
        Splines that carry; one that just touches does not.
    """

    load_n: FloatArray
    delta_um: FloatArray
    engaged: NDArray[np.int64]

    @property
    def share(self) -> FloatArray:
        """Each spline's part of the force; shape (..., splines)."""
        return np.asarray(self.load_n / self.load_n.sum(axis=-1, keepdims=True))


def share_load(gap_um: FloatArray, *, force_n: float, stiffness_n_per_um: float) -> LoadSharing:
    """Share a force among splines that engage one after the other [2]_.

    Parameters
    ----------
    gap_um : ndarray, shape (..., splines)
        Gap of each driving flank from any common zero: only differences count, the tightest touches first.
    force_n : float
        Force round the mean radius, over 0.
    stiffness_n_per_um : float
        Of one spline; always the caller's knowledge, for it has no honest default (for a spline of 20 mm 100 to
        1000 N/um, from memory).

    Returns
    -------
    LoadSharing
        ``load_i = k max(0, delta - g_i)``.
    """
    after_first = gap_um - gap_um.min(axis=-1, keepdims=True)
    closing = np.sort(after_first, axis=-1)
    engaged = np.arange(1, gap_um.shape[-1] + 1)
    # with m engaged delta is (F/k + sum of the m smallest g)/m; every other m gives more, so the least one is right
    delta = ((force_n / stiffness_n_per_um + closing.cumsum(axis=-1)) / engaged).min(axis=-1)
    load = stiffness_n_per_um * np.maximum(delta[..., np.newaxis] - after_first, 0.0)
    carrying = load > 1e-12 * force_n  # rounding must not make a spline carry that just touches
    return LoadSharing(load_n=load, delta_um=np.asarray(delta), engaged=np.asarray(carrying.sum(axis=-1)))
