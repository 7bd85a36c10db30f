"""Gauge study from pairs of home inspections of the same shaft by different hands."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gauging.gauge_rr import GaugeStudy, _assemble, _sd, _together
from wearstats.analysis.gauging.remarks import GaugingRemark
from wearstats.analysis.remark import remark
from wearstats.analysis.widths.data import WidthBlock, WidthData
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.errors import AnalysisError, counted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InspectionPairs:
    """Two inspections of each of several units, at the places read in both.

    Parameters
    ----------
    readings : ndarray, shape (units, places, 2)
        In um relative to the new width; NaN at places not read in both.
    same_hand : ndarray of bool, shape (units,)
        Whether one measurer made both, so that his own bias does not show.
    """

    readings: FloatArray
    same_hand: BoolArray


def pair_inspections(data: WidthData, *, kind: str = "home") -> InspectionPairs | None:
    """Take the first two inspections of one kind from every unit that has two and can be matched place by place.

    Parameters
    ----------
    data : WidthData
        All readings, reduced.
    kind : {"home", "workshop", "caliper"}
        Which inspections.

    Returns
    -------
    InspectionPairs or None
        None where no unit has two such inspections with two common places or more.
    """
    is_kind = data.inspections["class"].eq(kind).to_numpy(dtype=bool)
    hand = np.asarray(data.inspections["measurer"].factorize()[0], dtype=np.int64)
    most = max((block.shape.places for block in data.blocks), default=0)
    found = [_pairs_of(block, is_kind, hand, most) for block in data.blocks if block.inspection.shape[1] > 1]
    readings = np.concatenate([each[0] for each in found]) if found else np.empty((0, most, 2))
    if not len(readings):
        return None
    same = np.concatenate([each[1] for each in found])
    return InspectionPairs(readings=readings, same_hand=same)


def _pairs_of(block: WidthBlock, is_kind: BoolArray, hand: IntArray, most: int) -> tuple[FloatArray, BoolArray]:
    """Take the pairs of one block, padded with NaN to `most` places."""
    mine = is_kind[block.inspection]
    # stable: the wanted kind first, else in the order they stand
    order = np.argsort(~mine, axis=1, kind="stable")[:, :2]
    rows = np.arange(len(order))[:, None]
    places = block.shape.places
    count, mean = block.count[rows, order, :places], block.mean[rows, order, :places]
    read = np.where((count > 0).all(axis=1, keepdims=True), mean, np.nan)
    keep = (mine.sum(axis=1) >= 2) & (np.isfinite(read[:, 0]).sum(axis=1) >= 2)
    padded = np.full((int(keep.sum()), most, 2), np.nan)
    padded[:, :places] = read[keep].transpose(0, 2, 1)
    hands = hand[block.inspection[rows, order][keep]]
    return padded, hands[:, 0] == hands[:, 1]


def study_pairs(pairs: InspectionPairs, *, decision_width_um: float = PLAY_LIMIT_UM) -> GaugeStudy:
    """Work a gauge study out from inspections in pairs, where nobody repeated single readings.

    Half the square of the mean difference of a pair tells the bias of an inspection (measurer and occasion), the
    scatter of the differences round it the repeatability, which so contains rounding and any interaction of
    place and inspection.
    Parts are the places of all units round the fleet's mean.

    Parameters
    ----------
    pairs : InspectionPairs
        Two inspections a unit; only those by different hands are used.
    decision_width_um : float
        What the measurements have to decide within.

    Returns
    -------
    GaugeStudy
        Without intervals of parts and total, whose places within a shaft are not independent.

    Raises
    ------
    AnalysisError
        With fewer than three units measured by different hands.
    """
    read = pairs.readings[~pairs.same_hand]
    units = len(read)
    if units < 3:
        raise AnalysisError(
            f"{counted(units, 'unit was', 'units were')} measured by two different hands",
            needed="three or more, each measured twice with no hub run between",
        )
    places = np.isfinite(read[..., 0]).sum(axis=1)
    apart = read[..., 0] - read[..., 1]
    mean_apart = np.nanmean(apart, axis=1)
    residual = np.nansum((apart - mean_apart[:, None]) ** 2) / 2
    usual = units / (1 / places).sum()
    df = np.array([float(units), float((places - 1).sum())])
    # both in the scale of one reading: E = bias^2 + repeatability^2 / places, and repeatability^2
    mean_squares = np.array([float((mean_apart**2).mean()) / 2, float(residual / df[1])])
    level = read.mean(axis=2)
    errors = mean_squares[0] / 2 + mean_squares[1] * (1 - 1 / usual) / 2
    part2 = max(float(np.nanvar(level, ddof=1)) - errors, 0.0)
    how = remark(GaugingRemark.PAIRS)
    sds = {
        "repeatability": _sd(mean_squares, df, np.array([0.0, 1.0]), how),
        "reproducibility": _sd(mean_squares, df, np.array([1.0, -1 / usual]), how),
        "part": Estimate(value=math.sqrt(part2), method=how),
    }
    return _assemble(
        sds,
        grr=_together(sds, _sd(mean_squares, df, np.array([1.0, 1 - 1 / usual]), how)),
        method=how,
        design=(int(places.sum()), 2, 1),
        interaction=(None, True),
        width=decision_width_um,
    )
