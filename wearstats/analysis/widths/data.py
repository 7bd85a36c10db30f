"""Readings reduced to what the width model needs: counts, means and inner sums of squares by inspection and place.

A *unit* is one shaft between two hubs: its widths stood still, so every inspection in it measured the same thing. Units
with the same pattern and the same number of inspections are stacked into one block of arrays; missing places simply
count zero readings, so unbalanced data need no special case.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns

CLASSES = ("home", "workshop", "caliper")
"""Kinds of measuring that differ in bias and repeatability: an owner, the workshop, and anybody with a caliper."""

_UNITS_TOGETHER = 1024
"""Most units of one block: what is worked out for a block at once stays small."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternShape:
    """How a pattern's places are laid out.

    Parameters
    ----------
    pattern : str
        Name of the pattern.
    splines : int
        Number of splines.
    stations : tuple of str
        From the shoulder to the nut end.
    new_width_mm : float
        Width when new, the zero of all widths in the analysis.
    """

    pattern: str
    splines: int
    stations: tuple[str, ...]
    new_width_mm: float

    @property
    def places(self) -> int:
        """Number of places, splines x stations."""
        return self.splines * len(self.stations)

    @property
    def slots(self) -> int:
        """Places, then one average over the splines a station, then the check piece."""
        return self.places + len(self.stations) + 1

    def extension(self) -> FloatArray:
        """Express every slot by the places, shape (slots, places); the check piece's row is zero."""
        return _extension(self.splines, len(self.stations))

    def station_design(self) -> FloatArray:
        """Which station each slot belongs to, shape (slots, stations)."""
        return _station_design(self.splines, len(self.stations))


@lru_cache
def _extension(splines: int, stations: int) -> FloatArray:
    station_means = np.tile(np.eye(stations), splines) / splines
    places = splines * stations
    made = np.vstack([np.eye(places), station_means, np.zeros((1, places))])
    made.flags.writeable = False
    return made


@lru_cache
def _station_design(splines: int, stations: int) -> FloatArray:
    made = _extension(splines, stations) @ np.tile(np.eye(stations), (splines, 1))
    made.flags.writeable = False
    return made


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthBlock:
    """Units of one pattern with the same number of inspections.

    The last axis of `count` and `mean` runs over the slots: the places, spline by spline and within a spline from the
    shoulder to the nut end; then, for inspections whose splines cannot be matched to those of another, the average over
    the splines of each station; last the check piece, whose true deviation from its known size is zero.

    Parameters
    ----------
    shape : PatternShape
        The pattern.
    unit : ndarray of int, shape (units,)
        Row of each unit in the unit table.
    inspection : ndarray of int, shape (units, inspections)
        Row of each inspection in the inspection table.
    count : ndarray, shape (units, inspections, slots)
        Readings at each slot.
    mean : ndarray, shape (units, inspections, slots)
        Their mean in um relative to the new width; 0 where there is none.
    rounding : ndarray or None, shape (units, inspections, slots)
        Variance that rounding adds to one reading, um^2; None: step^2 / 12 everywhere. Set, with the means of sites in
        `mean`, by `wearstats.analysis.widths.interval_readings`.
    piece_um2 : ndarray or None, shape (units, inspections)
        Variance that the doubt of the check piece's own size adds to its reading, um^2; None: nowhere any.
    """

    shape: PatternShape
    unit: IntArray
    inspection: IntArray
    count: FloatArray
    mean: FloatArray
    rounding: FloatArray | None = None
    piece_um2: FloatArray | None = None

    def besides_repeatability(self, step_um: FloatArray) -> FloatArray:
        """Variance of one reading besides its repeatability: of rounding and of the check piece's own size.

        Parameters
        ----------
        step_um : ndarray, shape (inspections,)
            Resolution by row of the inspection table.

        Returns
        -------
        ndarray, shape (units, inspections, slots or 1)
            In um^2.
        """
        rounding = step_um[self.inspection][..., None] ** 2 / 12 if self.rounding is None else self.rounding
        if self.piece_um2 is None:
            return rounding
        added = np.broadcast_to(rounding, self.count.shape).copy()
        added[..., -1] += self.piece_um2
        return added

    @property
    def has_averages(self) -> bool:
        """Whether readings enter as averages over splines."""
        places = self.shape.places
        return bool(self.count[..., places : places + len(self.shape.stations)].any())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthData:
    """All readings, reduced.

    Parameters
    ----------
    blocks : tuple of WidthBlock
        Every unit once.
    units : DataFrame
        One row a unit: ``unit`` (label), ``shaft``, ``pattern``, ``group`` (what its prior mean depends on).
    inspections : DataFrame
        One row an inspection: ``inspection``, ``unit``, ``measurer`` (person with gauge), ``class`` (see `CLASSES`),
        ``step_um`` (resolution); if check pieces have doubts, ``piece`` (its name) and ``piece_u_um`` (0 without).
    within : DataFrame
        Inner sums of squares by ``class`` and ``step_um``: ``spare`` (readings beyond one a place), ``within_um2``.
    readings : int
        How many readings stand behind it.
    """

    blocks: tuple[WidthBlock, ...]
    units: Annotated[pd.DataFrame, columns(text="pattern group", any="unit shaft")]
    inspections: Annotated[
        pd.DataFrame,
        columns(text="measurer class piece?", number="step_um piece_u_um?", any="inspection unit"),
    ]
    within: Annotated[pd.DataFrame, columns(text="class", number="step_um spare within_um2")]
    readings: int

    @property
    def class_index(self) -> IntArray:
        """Index into `CLASSES` of each inspection, shape (inspections,)."""
        return np.asarray(pd.Categorical(self.inspections["class"], categories=CLASSES).codes, dtype=np.int64)

    @property
    def piece_u_um(self) -> float:
        """Root mean square doubt of the check pieces that were read, um; 0 where there is none."""
        if "piece_u_um" not in self.inspections:
            return 0.0
        read = np.zeros(len(self.inspections), dtype=bool)
        for block in self.blocks:
            read[block.inspection.ravel()] = (block.count[..., -1] > 0).ravel()
        return float(np.sqrt(np.mean(self.inspections.loc[read, "piece_u_um"].to_numpy(dtype=float) ** 2)))


def piece_variances(piece: IntArray, u_um: FloatArray) -> FloatArray | None:
    """Variance that check pieces' doubts add to their readings; None where no piece has any.

    Parameters
    ----------
    piece : ndarray of int, shape (units, inspections)
        Alike for the same piece.
    u_um : ndarray, shape (units, inspections)
        Standard uncertainty of its size; 0 where no piece with a doubt was read.

    Returns
    -------
    ndarray or None, shape (units, inspections)
        In um^2. What readings of one piece have in common does not average out, yet they enter as if each had an error
        of its own: each of k in a unit therefore counts with k times the variance, so that their mean has it once.
    """
    if not u_um.any():
        return None
    alike = (piece[..., :, None] == piece[..., None, :]) & (u_um[..., None, :] > 0)
    return np.asarray(u_um**2 * alike.sum(axis=-1))


def measuring_class(measured_at: pd.Series, gauge_kind: pd.Series) -> pd.Series:
    """Tell which of `CLASSES` each inspection belongs to."""
    return measured_at.astype(object).where(gauge_kind.ne("caliper"), "caliper")


def share_few_measurers(data: WidthData, most: int) -> WidthData:
    """Let only some measurers of several units couple these, those who measured most; the others count unit by unit.

    A measurer counted as another one on every unit still has one bias there, so each unit is described as it was; only
    what one of these units tells of the bias on another is given up.

    Parameters
    ----------
    data : WidthData
        The readings, reduced.
    most : int
        How many may couple units.

    Returns
    -------
    WidthData
        The same object where they are no more than that.
    """
    inspections = data.inspections
    units = inspections[["measurer", "unit"]].drop_duplicates()["measurer"].value_counts()
    several = units[units > 1]
    if len(several) <= most:
        return data
    order = several.sort_index().sort_values(ascending=False, kind="stable")
    apart = inspections["measurer"].isin(order.index[most:])
    names = inspections["measurer"].where(~apart, inspections["measurer"] + " on " + inspections["unit"])
    return replace(data, inspections=inspections.assign(measurer=names))


def reduce_readings(moments: pd.DataFrame, inspections: pd.DataFrame, shapes: dict[str, PatternShape]) -> WidthData:
    """Stack moments into blocks.

    Parameters
    ----------
    moments : DataFrame
        One row an inspection and place: ``inspection``, ``spline`` (from 1), ``station`` (index from the shoulder, 0),
        ``n``, ``mean_um`` (relative to the new width), ``within_um2`` (inner sum of squares).
    inspections : DataFrame
        One row an inspection: ``inspection``, ``unit``, ``shaft``, ``pattern``, ``group``, ``measurer``, ``class``,
        ``step_um``, ``check_um`` (check reading minus its known size; NaN without one), where check pieces have names
        ``piece`` and ``piece_u_um`` (standard uncertainty of the size), ``marked`` (bool: spline 1 was
        marked, so that its splines can be matched to those of another inspection).
    shapes : dict of str to PatternShape
        By pattern.

    Returns
    -------
    WidthData
    """
    used = inspections[inspections["inspection"].isin(moments["inspection"].unique())].reset_index(drop=True)
    used = used.sort_values(["unit", "inspection"], kind="stable").reset_index(drop=True)
    order = pd.Series(used.index, index=used["inspection"])
    row = order.reindex(moments["inspection"]).to_numpy()
    keep = ~np.isnan(row)
    moments = moments[keep]
    row = row[keep].astype(np.int64)
    heads = ["inspection", "unit", "measurer", "class", "step_um"]
    if "piece_u_um" in used:
        doubt = used["piece_u_um"].astype(float).where(used["check_um"].notna()).fillna(0.0)
        used = used.assign(piece_u_um=doubt)
        heads += ["piece", "piece_u_um"] if doubt.any() else []
    unit_code, unit_label = pd.factorize(used["unit"])
    per_unit = np.bincount(unit_code, minlength=len(unit_label))
    slot = np.arange(len(used)) - np.r_[0, np.cumsum(per_unit)[:-1]][unit_code]
    units = used.drop_duplicates("unit")[["unit", "shaft", "pattern", "group"]].reset_index(drop=True)
    pattern_of_unit = units["pattern"].to_numpy(dtype=object)
    blocks = []
    for name, shape in shapes.items():
        for size in np.unique(per_unit[pattern_of_unit == name]):
            members = np.flatnonzero((pattern_of_unit == name) & (per_unit == size))
            blocks.append(_stack(members, int(size), shape, moments, row, used, unit_code, slot))
    marked = used["marked"].to_numpy(dtype=bool)
    blocks = [part for block in blocks for part in parted(with_averages(block, marked))]
    # with the means and counts these sums of squares are all that normal scatter has to tell of single readings
    tagged = pd.DataFrame(
        {
            "class": used["class"].to_numpy(dtype=object)[row],
            "step_um": used["step_um"].to_numpy(dtype=float)[row],
            "spare": moments["n"].to_numpy(dtype=float) - 1,
            "within_um2": moments["within_um2"].to_numpy(dtype=float),
        }
    )
    within = tagged[tagged["spare"] > 0].groupby(["class", "step_um"], as_index=False).sum()
    return WidthData(
        blocks=tuple(blocks),
        units=units,
        inspections=used[heads],
        within=within,
        readings=int(moments["n"].sum()),
    )


def _stack(
    members: IntArray,
    size: int,
    shape: PatternShape,
    moments: pd.DataFrame,
    row: IntArray,
    used: pd.DataFrame,
    unit_code: IntArray,
    slot: IntArray,
) -> WidthBlock:
    """Fill one block's arrays."""
    place_of_unit = np.full(int(unit_code.max(initial=-1)) + 1, -1)
    place_of_unit[members] = np.arange(members.size)
    unit_of_moment = place_of_unit[unit_code[row]]
    here = unit_of_moment >= 0
    station_count = len(shape.stations)
    place = (moments["spline"].to_numpy(dtype=np.int64) - 1) * station_count + moments["station"].to_numpy(np.int64)
    count = np.zeros((members.size, size, shape.slots))
    mean = np.zeros_like(count)
    at = (unit_of_moment[here], slot[row[here]], place[here])
    count[at] = moments["n"].to_numpy(dtype=float)[here]
    mean[at] = moments["mean_um"].to_numpy(dtype=float)[here]
    inspection = np.zeros((members.size, size), dtype=np.int64)
    mine = place_of_unit[unit_code] >= 0
    inspection[place_of_unit[unit_code[mine]], slot[mine]] = np.flatnonzero(mine)
    check = used["check_um"].to_numpy(dtype=float)[inspection]
    count[..., -1] = np.isfinite(check)
    mean[..., -1] = np.nan_to_num(check)
    pieces = None
    if "piece_u_um" in used:
        codes = pd.factorize(used["piece"])[0]
        pieces = piece_variances(codes[inspection], used["piece_u_um"].to_numpy(dtype=float)[inspection])
    return WidthBlock(shape=shape, unit=members, inspection=inspection, count=count, mean=mean, piece_um2=pieces)


def parted(block: WidthBlock) -> list[WidthBlock]:
    """Part units with averages over splines from those without, and both into pieces of not too many."""
    places = block.shape.places
    averaged = block.count[..., places : places + len(block.shape.stations)].any(axis=(1, 2))
    parts = []
    for mine in (np.flatnonzero(~averaged), np.flatnonzero(averaged)):
        for start in range(0, mine.size, _UNITS_TOGETHER):
            rows = mine[start : start + _UNITS_TOGETHER]
            if rows.size == block.unit.size:
                return [block]
            parts.append(
                replace(
                    block,
                    unit=block.unit[rows],
                    inspection=block.inspection[rows],
                    count=block.count[rows],
                    mean=block.mean[rows],
                    piece_um2=None if block.piece_um2 is None else block.piece_um2[rows],
                )
            )
    return parts


def with_averages(block: WidthBlock, marked: NDArray[np.bool_]) -> WidthBlock:
    """Keep only what does not depend on numbering where two inspections cannot be matched spline by spline.

    Within a unit the first inspection sets the numbering; a later one can be matched to it only if both were marked,
    else its readings enter as averages over the splines. (Where some splines were not read, the average over those that
    were stands for the average over all.)
    """
    seen = marked[block.inspection]
    blind = ~(seen & seen[:, :1])
    blind[:, 0] = False
    if not blind.any():
        return block
    shape = block.shape
    stations = len(shape.stations)
    grid = (*block.count.shape[:2], shape.splines, stations)
    count, mean = block.count.copy(), block.mean.copy()
    readings = count[..., : shape.places].reshape(grid)
    total = readings.sum(axis=2)
    average = (mean[..., : shape.places].reshape(grid) * readings).sum(axis=2) / np.maximum(total, 1)
    averages = slice(shape.places, shape.places + stations)
    count[..., averages] = np.where(blind[..., None], total, 0)
    mean[..., averages] = np.where(blind[..., None], average, 0)
    count[..., : shape.places] *= ~blind[..., None]
    mean[..., : shape.places] *= ~blind[..., None]
    return replace(block, count=count, mean=mean)
