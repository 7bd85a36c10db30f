"""Draws of what fittings left, those of one shaft drawn together.

Two fittings of a shaft that were chosen on the same readings stand on the same error, and two measured by the same hand
share that hand's bias. So the draws of a shaft's fittings use the same random numbers where the readings are the same;
where only the hand is, the random number along the widest direction of doubt, which is nearly the bias, is shared in
part. Everything else is drawn apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.gaps.posterior import FitDraws, fit_draws
from wearstats.analysis.numerics.covariance_roots import widest_last_root
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.widths.data import WidthBlock
from wearstats.analysis.widths.prediction import MapPrediction
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.contact import CONTACT_LIMIT_UM, gap_left, play_bound, way_in

THREE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bonds:
    """What the fittings have in common, all arrays of shape (fittings,).

    Parameters
    ----------
    shaft, readings, hand, hub : ndarray of labels
        Names of shaft, set of readings in hand, measurer and hub; draws go by them.
    bias_share : ndarray
        Share of the variance of an inspection's bias that its measurer has on every occasion, 0 to 1.
    """

    shaft: NDArray[Any]
    readings: NDArray[Any]
    hand: NDArray[Any]
    hub: NDArray[Any]
    bias_share: FloatArray

    def take(self, rows: IntArray) -> Bonds:
        """Keep some fittings."""
        return Bonds(**{name: getattr(self, name)[rows] for name in self.__slots__})

    def hand_on_shaft(self) -> NDArray[np.str_]:
        """Name each fitting's measurer together with its shaft: only on one shaft is a hand's bias shared."""
        pairs = zip(self.shaft.tolist(), self.hand.tolist(), strict=True)
        return np.array([f"{shaft}\x1f{hand}" for shaft, hand in pairs], dtype=np.str_)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapDraws:
    """What fittings left, draw by draw; all arrays of shape (fittings, draws).

    Parameters
    ----------
    fit : FitDraws
        Clearance, mean gap left, contact share, filing.
    three_tightest_um : ndarray
        Mean gap left over the three splines with the smallest.
    room_um : ndarray
        Space less the widest width met on the way in, at the tightest spline; negative where the hub does not slide on.
    filed_um : ndarray
        What comes off at the worst place of each spline, summed over the splines.
    play_bound_um : ndarray
        Smallest gap left at any place: the most play there can be.
    bearing_share : ndarray
        Share of splines that bear at some place.
    below_new_um : ndarray
        Mean width below new.
    """

    fit: FitDraws
    three_tightest_um: FloatArray
    room_um: FloatArray
    filed_um: FloatArray
    play_bound_um: FloatArray
    bearing_share: FloatArray
    below_new_um: FloatArray


def draw_normals(bonds: Bonds, places: int, count: int, *, draws: NamedDraws) -> FloatArray:
    """Draw standard normal numbers, those of bound fittings alike as far as their bonds go.

    Parameters
    ----------
    bonds : Bonds
        Of n fittings.
    places : int
        Numbers a draw; the last belongs to the widest direction of doubt.
    count : int
        Draws, even; taken in opposite pairs, so that means are exact.
    draws : NamedDraws
        Where they come from: readings and hands draw by their names.

    Returns
    -------
    ndarray, shape (n, count, places)
    """
    names, of_readings = np.unique(bonds.readings, return_inverse=True)
    normal = draws.standard_normal("readings", names, (count // 2, places))[of_readings]
    hands, of_hand = np.unique(bonds.hand_on_shaft(), return_inverse=True)
    shared = draws.standard_normal("hand", hands, (count // 2,))[of_hand]
    alone = np.bincount(of_hand)[of_hand] == 1
    share = np.where(alone, 0.0, bonds.bias_share)[:, None]
    normal[..., -1] = np.sqrt(share) * shared + np.sqrt(1.0 - share) * normal[..., -1]
    return np.concatenate([normal, -normal], axis=1)


def draw_together(
    prediction: MapPrediction, normal: FloatArray, space_mean_um: FloatArray, space_sd_um: FloatArray, hub: FloatArray
) -> GapDraws:
    """Draw what the fittings of one block left.

    Parameters
    ----------
    prediction : MapPrediction
        What is known of the maps of n fittings.
    normal : ndarray, shape (n, draws, places)
        As `draw_normals` gives them.
    space_mean_um, space_sd_um : ndarray, shape (n,)
        What is known of the hubs' spaces.
    hub : ndarray, shape (n, draws)
        Standard normal numbers for the hubs.

    Returns
    -------
    GapDraws
    """
    root = widest_last_root(prediction.covariance_um2)
    flat = prediction.mean_um[:, None, :] + normal @ np.swapaxes(root, 1, 2)
    maps = flat.reshape(*flat.shape[:2], prediction.shape.splines, len(prediction.shape.stations))
    return gaps_of_maps(maps, space_mean_um[:, None] + space_sd_um[:, None] * hub)


def gaps_of_maps(maps_um: FloatArray, space_um: FloatArray) -> GapDraws:
    """Apply the geometry: maps (n, draws, splines, stations), spaces (n, draws)."""
    space = space_um[..., None, None]
    left = gap_left(maps_um, space)
    # at the shoulder the hub has passed all of the spline
    over = way_in(maps_um)[..., 0] - space_um[..., None]
    tight = min(THREE, maps_um.shape[-2])
    return GapDraws(
        fit=fit_draws(maps_um, space_um),
        three_tightest_um=np.partition(left.mean(axis=-1), tight - 1, axis=-1)[..., :tight].mean(axis=-1),
        room_um=-over.max(axis=-1),
        filed_um=np.maximum(over, 0.0).sum(axis=-1),
        play_bound_um=play_bound(left),
        bearing_share=(reduce(np.minimum, np.moveaxis(left, -1, 0)) <= CONTACT_LIMIT_UM).mean(axis=-1),
        below_new_um=-maps_um.mean(axis=(-2, -1)),
    )


def maps_as_read(block: WidthBlock) -> FloatArray:
    """Give the maps as the readings have them, shape (units, splines, stations), nothing taken off and nothing weighed.

    Places never read take the mean of their station, or of the shaft; where splines could not be matched between
    inspections the stations' means stand for them.
    """
    shape, stations = block.shape, len(block.shape.stations)
    count, total = block.count.sum(axis=1), (block.count * block.mean).sum(axis=1)
    grid = (-1, shape.splines, stations)
    places = slice(0, shape.places)
    read, summed = count[:, places].reshape(grid), total[:, places].reshape(grid)
    averages = slice(shape.places, shape.places + stations)
    by_station_count = read.sum(axis=1) + count[:, averages] * shape.splines
    by_station = summed.sum(axis=1) + total[:, averages] * shape.splines
    overall = by_station.sum(axis=1) / np.maximum(by_station_count.sum(axis=1), 1.0)
    station = np.where(by_station_count > 0, by_station / np.maximum(by_station_count, 1e-9), overall[:, None])
    return np.asarray(np.where(read > 0, summed / np.maximum(read, 1e-9), station[:, None, :]))
