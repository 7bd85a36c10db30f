"""The mean width of every shaft of a fleet too large to hold its readings row by row.

Readings come out of the store as numbers alone and go straight into arrays of a few bytes a place; of these, pieces of
some thousand shafts are worked out at a time.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthBlock, parted, piece_variances, with_averages
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.large_fleets import BlockInspections, UnitLevels, unit_levels
from wearstats.domain.arrays import IntArray
from wearstats.domain.frames import columns
from wearstats.studies.snapshot import Snapshot

_THREADS = 2
_UNITS_TOGETHER = 2048


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FleetLevels:
    """Mean widths of all shafts.

    Parameters
    ----------
    rows : DataFrame
        One row a shaft, of its first unit: ``pattern``, ``shaft``, ``region``, ``duty``, ``width_um_below_new``,
        ``sd_um``, ``read_um_below_new``, ``read_sd_um``, in order of pattern and shaft.
    readings : dict of str to int
        By pattern, those of later units too.
    """

    rows: Annotated[
        pd.DataFrame,
        columns(
            text="pattern shaft region duty",
            number="width_um_below_new sd_um read_um_below_new read_sd_um",
        ),
    ]
    readings: dict[str, int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Words:
    """What the numbers in `_Heads` stand for, from 1; 0 is what is not said."""

    patterns: list[str]
    regions: list[str]
    duties: list[str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heads:
    """All inspections in order of shaft and inspection, as `fleet_inspections` has them."""

    shafts: NDArray[np.object_]
    shaft: IntArray  # row in `shafts`
    columns: dict[str, Any]

    def __getitem__(self, name: str) -> Any:
        return self.columns[name]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cells:
    """Every inspection's readings: count and mean in um at each place, shape (inspections, places)."""

    count: NDArray[np.uint16]
    mean_um: NDArray[np.float32]


def read_fleet_levels(snapshot: Snapshot, fit: WidthFit, shapes: dict[str, PatternShape]) -> FleetLevels:
    """Read all readings and work out the mean width of every shaft.

    Parameters
    ----------
    fit : WidthFit
        The width model, fitted to a sample of them.
    shapes : dict of str to PatternShape
        By pattern; shafts of others are left out, as the model knows nothing of them.

    Returns
    -------
    FleetLevels
    """
    told = snapshot.query("widths/fleet_words")
    words = _Words(
        patterns=list(shapes),
        regions=list(told["region"].dropna().unique()),
        duties=list(told["duty"].dropna().unique()),
    )
    heads = _read_heads(snapshot, words)
    cells = _read_cells(snapshot, heads, list(shapes.values()))
    read = cells.count.sum(axis=1, dtype=np.int64)
    readings = {name: int(read[heads["pattern"] == k + 1].sum()) for k, name in enumerate(shapes)}
    rows, unit = _first_units(heads, (read > 0) & (heads["pattern"] > 0))
    return FleetLevels(rows=_rows(fit, list(shapes.values()), words, heads, cells, rows, unit), readings=readings)


def _read_heads(snapshot: Snapshot, words: _Words) -> _Heads:
    """Read every inspection, the shafts' names once each."""
    parts: list[dict[str, Any]] = []
    shafts: list[NDArray[np.object_]] = []
    last = None
    for part in snapshot.store.query_parts(
        "widths/fleet_inspections",
        as_of=snapshot.known_on,
        pattern=snapshot.pattern,
        patterns=words.patterns,
        regions=words.regions,
        duties=words.duties,
        kinds=list(CLASSES),
    ):
        names = part["shaft"].to_numpy(dtype=object)
        fresh = np.r_[names[0] != last, names[1:] != names[:-1]].astype(bool)
        last = names[-1]
        shafts.append(names[fresh])
        parts.append({"fresh": fresh, **{name: part[name].to_numpy() for name in part.columns if name != "shaft"}})
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return _Heads(
        shafts=np.concatenate(shafts),
        shaft=np.cumsum(columns.pop("fresh")).astype(np.int64) - 1,
        columns=columns,
    )


def _read_cells(snapshot: Snapshot, heads: _Heads, shapes: list[PatternShape]) -> _Cells:
    """Read every place's count and mean."""
    stations = sorted({station for shape in shapes for station in shape.stations})
    inspections, places = heads.shaft.size, max(shape.places for shape in shapes)
    # by pattern (0: one that the model does not know): where its stations stand, and how many splines it has
    at_station = np.full((len(shapes) + 1, len(stations) + 1), -1)
    splines, new_um, width = (np.zeros(len(shapes) + 1) for _ in range(3))
    for k, shape in enumerate(shapes, start=1):
        for j, station in enumerate(shape.stations):
            at_station[k, stations.index(station) + 1] = j
        splines[k], new_um[k], width[k] = shape.splines, shape.new_width_mm * 1000, len(shape.stations)
    count = np.zeros((inspections, places), dtype=np.uint16)
    mean = np.zeros((inspections, places), dtype=np.float32)
    of_pattern = heads["pattern"].astype(np.int64)
    asked: dict[str, Any] = {"as_of": snapshot.known_on, "pattern": snapshot.pattern, "stations": stations}
    for part in snapshot.store.query_parts("widths/fleet_cells", **asked):
        row, spline = part["inspection_row"].to_numpy(), part["spline"].to_numpy()
        kind = of_pattern[row]
        station = at_station[kind, part["station"].to_numpy()]
        n = part["n"].to_numpy()
        known = (station >= 0) & (spline >= 1) & (spline <= splines[kind])
        at = row * places + ((spline - 1) * width[kind]).astype(np.int64) + station
        at = at[known]
        count.reshape(-1)[at] = n[known]
        mean.reshape(-1)[at] = (part["sum_tenth_um"].to_numpy() / n / 10 - new_um[kind])[known]
    return _Cells(count=count, mean_um=mean)


def _first_units(heads: _Heads, used: NDArray[np.bool_]) -> tuple[IntArray, IntArray]:
    """Find the inspections of each shaft's first unit: their rows, and the number of the unit, both rising."""
    row = np.flatnonzero(used)
    shaft, hubs = heads.shaft[row], heads["hubs_before"][row]
    # where it is not sure whether a hub ran before it, an inspection is a unit by itself
    alone = hubs > heads["hubs_surely_before"][row]
    ordered = np.lexsort((row, heads["measured_day"][row], hubs, shaft))
    lead = np.r_[True, np.diff(shaft[ordered]) > 0]
    _, where = np.unique(shaft, return_inverse=True)
    first = ordered[lead][where]
    mine = (np.arange(row.size) == first) | ((hubs == hubs[first]) & ~alone & ~alone[first])
    return row[mine], np.asarray(where[mine], dtype=np.int64)


def _rows(
    fit: WidthFit,
    shapes: list[PatternShape],
    words: _Words,
    heads: _Heads,
    cells: _Cells,
    row: IntArray,
    unit: IntArray,
) -> pd.DataFrame:
    """Work out the units in pieces, two at a time."""
    start = np.flatnonzero(np.r_[True, np.diff(unit) > 0])
    size = np.diff(np.r_[start, unit.size])
    pattern = heads["pattern"][row[start]]
    work = [
        (shape, members, row[start[members][:, None] + np.arange(number)])
        for k, shape in enumerate(shapes, start=1)
        for number in np.unique(size[pattern == k])
        for members in _pieces(np.flatnonzero((pattern == k) & (size == number)))
    ]
    numbers = np.full((4, start.size), np.nan)

    def work_out(shape: PatternShape, members: IntArray, rows: IntArray) -> None:
        for units, levels in _levels(fit, shape, words, heads, cells, rows):
            numbers[:, members[units]] = (
                -levels.predicted_um, levels.predicted_sd_um, -levels.read_um, levels.read_sd_um,
            )  # fmt: skip

    with ThreadPoolExecutor(_THREADS) as pool:
        for done in [pool.submit(work_out, *each) for each in work]:
            done.result()
    lead = row[start]
    names = ("width_um_below_new", "sd_um", "read_um_below_new", "read_sd_um")
    rows = pd.DataFrame(
        {
            "pattern": pd.Categorical.from_codes(pattern.astype(np.int64) - 1, pd.Index(words.patterns)),
            "shaft": heads.shafts[heads.shaft[lead]],
            "region": pd.Categorical.from_codes(heads["region"][lead].astype(np.int64) - 1, pd.Index(words.regions)),
            "duty": pd.Categorical.from_codes(heads["duty"][lead].astype(np.int64) - 1, pd.Index(words.duties)),
            **dict(zip(names, numbers, strict=True)),
        }
    )
    order = np.lexsort((np.arange(len(rows)), np.argsort(np.argsort(words.patterns))[pattern.astype(np.int64) - 1]))
    return rows.iloc[order].reset_index(drop=True)


def _pieces(members: IntArray) -> Iterator[IntArray]:
    for begin in range(0, members.size, _UNITS_TOGETHER):
        yield members[begin : begin + _UNITS_TOGETHER]


def _levels(
    fit: WidthFit, shape: PatternShape, words: _Words, heads: _Heads, cells: _Cells, rows: IntArray
) -> Iterator[tuple[IntArray, UnitLevels]]:
    """Give the levels of units of a pattern whose inspections stand in `rows`, and which of them they are."""
    units, size = rows.shape
    count = np.zeros((units, size, shape.slots))
    mean = np.zeros_like(count)
    count[..., : shape.places] = cells.count[rows, : shape.places]
    mean[..., : shape.places] = cells.mean_um[rows, : shape.places]
    check = heads["check_um"][rows].astype(float)
    count[..., -1] = np.isfinite(check)
    mean[..., -1] = np.nan_to_num(check)
    groups = np.array(
        [f"{duty}, {after}" for duty in ("duty not said", *words.duties) for after in ("first hub", "after a hub")],
        dtype=object,
    )
    block = WidthBlock(
        shape=shape,
        unit=np.arange(units),
        inspection=rows,
        count=count,
        mean=mean,
        piece_um2=piece_variances(heads["piece"][rows], np.nan_to_num(heads["piece_u_um"][rows].astype(float))),
    )
    for part in parted(with_averages(block, heads["marked"].astype(bool))):
        at = part.inspection
        by = BlockInspections(
            kind=heads["kind"][at].astype(np.int64) - 1,
            measurer=heads["measurer"][at].astype(np.int64),
            step_um=heads["step_um"][at].astype(float),
            group=groups[2 * heads["duty"][at[:, 0]].astype(np.int64) + (heads["hubs_before"][at[:, 0]] > 0)],
        )
        yield part.unit, unit_levels(fit, part, by)
