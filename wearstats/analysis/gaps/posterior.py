"""What is known of the gap that a hub leaves on a shaft, given the readings in hand on the day of choice.

The error belongs to the width: what is known of the map (`wearstats.analysis.widths.prediction.predict_maps`) is drawn
many times, the hub's space likewise, and the geometry of `wearstats.domain.contact` is applied to every draw. Nothing
is ever put on the clearance itself: the hub was chosen on the same readings, so the clearance they show is mostly
rounding and policy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.estimate import Estimate, Status, widened_interval
from wearstats.analysis.gaps.remarks import GapRemark
from wearstats.analysis.numerics.covariance_roots import widest_last_root
from wearstats.analysis.remark import remark
from wearstats.analysis.widths.prediction import MapPrediction
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import (
    CONTACT_LIMIT_UM,
    clearance,
    contact_share,
    filing,
    gap_floor,
    gap_left,
    play_bound,
    way_in,
)

ASSUMED_SPACE_SD_UM = 5.0
"""Spread of a hub's spaces about their nominal where they were not gauged; judgement."""
GAUGED_SD_UM = 2.0
"""Standard uncertainty of a gauged space where none was said; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HubSpace:
    """Width of a hub's spaces from the new spline width.

    Parameters
    ----------
    mean_um, sd_um : float
        What is known of it.
    status : {"ok", "assumed"}
        ``assumed`` where it was neither gauged itself nor held between a go and a no-go gauge.
    """

    mean_um: float
    sd_um: float
    status: Status = "ok"


def hub_space(
    *,
    nominal_um: float,
    gauged_um: float | None = None,
    gauged_u_um: float | None = None,
    go_um: float | None = None,
    no_go_um: float | None = None,
) -> HubSpace:
    """Tell what is known of a hub's spaces.

    Parameters
    ----------
    nominal_um : float
        Nominal space width from the new spline width.
    gauged_um, gauged_u_um : float, optional
        As gauged on this hub, and its standard uncertainty (`GAUGED_SD_UM` where not said).
    go_um, no_go_um : float, optional
        Plug gauges between which its batch was held: the space lies anywhere between them.

    Returns
    -------
    HubSpace
    """
    if gauged_um is not None:
        return HubSpace(mean_um=gauged_um, sd_um=GAUGED_SD_UM if gauged_u_um is None else gauged_u_um)
    if go_um is not None and no_go_um is not None and no_go_um > go_um:
        return HubSpace(mean_um=(go_um + no_go_um) / 2, sd_um=(no_go_um - go_um) / 12**0.5)
    return HubSpace(mean_um=nominal_um, sd_um=ASSUMED_SPACE_SD_UM, status="assumed")


def hub_spaces(
    *,
    nominal_um: FloatArray,
    gauged_um: FloatArray,
    gauged_u_um: FloatArray,
    go_um: FloatArray,
    no_go_um: FloatArray,
) -> tuple[FloatArray, FloatArray, NDArray[np.object_]]:
    """Tell what is known of many hubs' spaces: `hub_space` for arrays of shape (hubs,), NaN where not known.

    Returns
    -------
    ndarray, ndarray, ndarray of str, shape (hubs,)
        Mean, standard deviation, status.
    """
    gauged = ~np.isnan(gauged_um)
    held = ~gauged & (no_go_um > go_um)
    own = np.where(np.isnan(gauged_u_um), GAUGED_SD_UM, gauged_u_um)
    mean = np.select([gauged, held], [gauged_um, (go_um + no_go_um) / 2], default=nominal_um)
    sd = np.select([gauged, held], [own, (no_go_um - go_um) / 12**0.5], default=ASSUMED_SPACE_SD_UM)
    return mean, sd, np.where(gauged | held, "ok", "assumed").astype(object)


def draw_maps(prediction: MapPrediction, normal: FloatArray) -> FloatArray:
    """Draw true maps from what is known of them.

    Parameters
    ----------
    prediction : MapPrediction
        Means and covariances.
    normal : ndarray, shape (units or 1, draws, places)
        Standard normal numbers; the first of each draw moves the map along its widest direction of doubt.

    Returns
    -------
    ndarray, shape (units, draws, splines, stations)
        In um from the new width.
    """
    root = widest_last_root(prediction.covariance_um2)
    maps = prediction.mean_um[:, None, :] + normal[..., ::-1] @ np.swapaxes(root, 1, 2)
    return np.asarray(maps.reshape(*maps.shape[:2], prediction.shape.splines, len(prediction.shape.stations)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitDraws:
    """How a hub fits a shaft, draw by draw.

    Parameters
    ----------
    clearance_um, gap_left_um, contact_share : ndarray, shape (..., draws)
        Space less mean width; mean gap left over all places; share of places that bear.
    gripped_share : ndarray, shape (..., draws)
        Share of splines that the hub is not slack on.
    largest_filing_um, total_filing_um : ndarray, shape (..., draws)
        At the worst place, and summed over all places.
    smallest_gap_um : ndarray, shape (..., draws)
        The most play that the fitted hub can have.
    station_gap_um : ndarray, shape (..., draws)
        Mean gap left at the station where it is largest.
    """

    clearance_um: FloatArray
    gap_left_um: FloatArray
    contact_share: FloatArray
    gripped_share: FloatArray
    largest_filing_um: FloatArray
    total_filing_um: FloatArray
    smallest_gap_um: FloatArray
    station_gap_um: FloatArray


def fit_draws(maps_um: FloatArray, space_um: FloatArray, *, contact_limit_um: float = CONTACT_LIMIT_UM) -> FitDraws:
    """Apply the geometry to every draw.

    Parameters
    ----------
    maps_um : ndarray, shape (..., draws, splines, stations)
        Drawn true maps.
    space_um : ndarray, shape (..., draws)
        Drawn hub spaces.
    contact_limit_um : float
        A place with no more gap than this bears.

    Returns
    -------
    FitDraws
    """
    space = space_um[..., None, None]
    left = gap_left(maps_um, space)
    off = filing(maps_um, space)
    return FitDraws(
        clearance_um=clearance(maps_um, space_um),
        gap_left_um=left.mean(axis=(-2, -1)),
        contact_share=contact_share(left, limit_um=contact_limit_um),
        gripped_share=(way_in(maps_um)[..., 0] >= space_um[..., None]).mean(axis=-1),
        largest_filing_um=off.max(axis=(-2, -1)),
        total_filing_um=off.sum(axis=(-2, -1)),
        smallest_gap_um=play_bound(left),
        station_gap_um=left.mean(axis=-2).max(axis=-1),
    )


def hollow_draws(maps_um: FloatArray) -> FloatArray:
    """Mean floor of the gap at the worst station, which no hub cures, shape (..., draws), um."""
    return np.asarray(gap_floor(maps_um).mean(axis=-2).max(axis=-1))


def estimate_draws(draws: FloatArray, *, status: Status = "ok") -> Estimate:
    """Sum up draws of one quantity, shape (draws,), as mean and 95 % interval; see `widened_interval`."""
    mean = float(draws.mean())
    low, high, widened = widened_interval(draws, draws.mean())
    return Estimate(
        value=mean,
        low=float(low),
        high=float(high),
        method=remark(GapRemark.DRAWN_WIDENED if widened.any() else GapRemark.DRAWN_MAPS),
        status=status,
    )
