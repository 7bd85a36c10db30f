"""Readings that hardly belong where they stand: listed with a likely reason, never dropped.

Every inspection is taken apart by median polish (Tukey, Exploratory Data Analysis, 1977) into level, spline, station
and rest; the rest is judged against the scatter usual for its kind of measuring, with a floor from the gauge's step.
Where a unit was inspected more than once, splines and stations written in each other's place show by the other
inspection; stations also by the fleet, where its shafts taper alike. Limits are set so that fewer than one clean
inspection in a hundred is listed.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.gauging.remarks import StrayRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.data import CLASSES, WidthBlock, WidthData
from wearstats.domain.arrays import FloatArray, IntArray

PLACE_SDS = 5.0
SPLINE_SDS = 5.0
SWAP_GAIN = 14.0
"""How many times e the swapped layout must be likelier than the written one, after the many swaps tried (judgement)."""

_LEAST_FLEET = 30
"""Inspections of a pattern from which its usual taper may be told (judgement)."""

COLUMNS = ("inspection", "spline", "station", "found_um", "expected_um", "why", "score")

_SWAPPED = (*(90.0 * apart for apart in range(1, 9) if apart != 7), 900.0)
"""Two neighbouring figures exchanged move a reading by nine times their difference in the lower place; seven times 90
is a turn of an inch thimble, which is likelier."""

_SLIPS = (
    (500.0, remark(StrayRemark.THIMBLE_TURN)),
    (635.0, remark(StrayRemark.INCH_THIMBLE_TURN)),
    (25.4, remark(StrayRemark.THOUSANDTH)),
    *((off_um, remark(StrayRemark.THIMBLE_LINE, off_um=off_um)) for off_um in (25.0, 50.0)),
    *((off_um, remark(StrayRemark.DIGIT, off_um=off_um)) for off_um in (100.0, 1000.0)),
    *((off_um, remark(StrayRemark.DIGITS_SWAPPED, off_um=off_um)) for off_um in _SWAPPED),
)


def find_stray_readings(
    data: WidthData,
    *,
    place_sd_um: Mapping[str, float] | None = None,
    spline_sd_um: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """List readings that hardly belong where they stand.

    Parameters
    ----------
    data : WidthData
        All readings, reduced; nothing in it is changed. Few inspections give no usual scatter of their own: then the
        floor from the gauge's step and from a trained hand's scatter (2 um, judgement) stands alone.
    place_sd_um, spline_sd_um : mapping of str to float, optional
        Usual scatter of single places and of splines by kind of measuring, where it is known from elsewhere; the
        readings' own if not given.

    Returns
    -------
    DataFrame
        One row a finding: ``inspection``, ``spline`` (from 1; missing where all splines are meant), ``station`` (name;
        missing where the whole spline or inspection is meant), ``found_um``, ``expected_um`` (relative to the new
        width; missing for a swapped layout), ``why`` (Remark), ``score`` (scatters, or gain in log likelihood for
        a swap).
    """
    grids = [_grid(block) for block in data.blocks]
    parts = [_polish(grid) for grid in grids]
    classes, steps = data.class_index, data.inspections["step_um"].to_numpy(dtype=float)
    kinds = [classes[block.inspection] for block in data.blocks]
    # readings alike to the step show no scatter, and the first that is not alike would be a stray
    floors = [np.hypot(2.0, steps[block.inspection] / 12**0.5) for block in data.blocks]
    place_sd = _given(place_sd_um) if place_sd_um else _usual([part[2] for part in parts], kinds)
    spline_sd = _given(spline_sd_um) if spline_sd_um else _usual([part[1][..., None] for part in parts], kinds)
    found: list[pd.DataFrame] = []
    names = data.inspections["inspection"].to_numpy(dtype=object)
    for block, grid, part, kind, floor in zip(data.blocks, grids, parts, kinds, floors, strict=True):
        _, spline, rest = part
        scale = np.maximum(place_sd[kind], floor)
        wide = np.maximum(spline_sd[kind], floor)
        found.append(_places(block, names, grid, rest, scale))
        found.append(_splines(block, names, grid, spline, rest, wide, scale))
        if grid.shape[1] > 1:
            found.append(_swaps(block, names, grid, scale))
    stations = [part[0] for part in parts]
    for pattern in {block.shape.pattern: None for block in data.blocks}:
        mine = [at for at, block in enumerate(data.blocks) if block.shape.pattern == pattern]
        found.append(
            _against_fleet([data.blocks[i] for i in mine], names, [grids[i] for i in mine], [stations[i] for i in mine])
        )
    rows = [each for each in found if len(each)]
    if not rows:
        return pd.DataFrame(columns=list(COLUMNS))
    table = pd.concat(rows, ignore_index=True)
    return table.sort_values(["score", "inspection"], ascending=[False, True], kind="stable").reset_index(drop=True)


def _given(by_class: Mapping[str, float]) -> FloatArray:
    return np.array([by_class[name] for name in CLASSES])


def _grid(block: WidthBlock) -> FloatArray:
    """Give the places as units x inspections x splines x stations, NaN where none was read."""
    places = block.shape.places
    read = np.where(block.count[..., :places] > 0, block.mean[..., :places], np.nan)
    return read.reshape(*read.shape[:2], block.shape.splines, len(block.shape.stations))


def _median(values: FloatArray, axis: int) -> FloatArray:
    """Give the median of what is there, 0 where nothing is; keeps the axis."""
    ordered = np.sort(values, axis=axis)
    there = np.isfinite(values).sum(axis=axis, keepdims=True)
    low, high = np.maximum((there - 1) // 2, 0), there // 2
    high = np.minimum(high, values.shape[axis] - 1)
    middle = (np.take_along_axis(ordered, low, axis) + np.take_along_axis(ordered, high, axis)) / 2
    return np.where(there > 0, middle, 0.0)


def _polish(grid: FloatArray, *, rounds: int = 3) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Take station medians (with the level) and spline medians out in turn: stations, splines, rest."""
    station = np.zeros((*grid.shape[:2], grid.shape[3]))
    spline = np.zeros(grid.shape[:3])
    rest = grid.copy()
    for _ in range(rounds):
        step = _median(rest, 2)
        station, rest = station + step[..., 0, :], rest - step
        step = _median(rest, 3)
        spline, rest = spline + step[..., 0], rest - step
    return station, np.where(np.isfinite(grid).any(axis=3), spline, np.nan), rest


def _usual(values: list[FloatArray], kinds: list[IntArray]) -> FloatArray:
    """Give the usual scatter of each class: the mean square of what lies within the middle 90 %, made up for normal.

    Zeros that the median makes of itself would shrink a median of sizes, so an upper quantile is taken.
    """
    scale = np.zeros(len(CLASSES))
    for at in range(len(CLASSES)):
        mine = [np.abs(value[kind == at]).ravel() for value, kind in zip(values, kinds, strict=True)]
        pool = np.concatenate(mine) if mine else np.empty(0)
        pool = pool[np.isfinite(pool)]
        # 90 % of normal values lie within 1.645 standard deviations
        scale[at] = float(np.quantile(pool, 0.9)) / 1.645 if pool.size >= 200 else 0.0
    return scale


def _places(
    block: WidthBlock, names: NDArray[np.object_], grid: FloatArray, rest: FloatArray, scale: FloatArray
) -> pd.DataFrame:
    score = np.abs(rest) / scale[..., None, None]
    first = score >= np.nanmax(np.where(np.isfinite(score), score, -1.0), axis=3, keepdims=True)
    unit, visit, spline, station = np.nonzero((score > PLACE_SDS) & first)
    at = (unit, visit, spline, station)
    stations = np.array(block.shape.stations, dtype=object)
    return pd.DataFrame(
        {
            "inspection": names[block.inspection[unit, visit]],
            "spline": spline + 1,
            "station": stations[station],
            "found_um": grid[at],
            "expected_um": grid[at] - rest[at],
            "why": _why(StrayRemark.PLACE, rest[at], scale[unit, visit]),
            "score": score[at],
        }
    )


def _splines(
    block: WidthBlock,
    names: NDArray[np.object_],
    grid: FloatArray,
    effect: FloatArray,
    rest: FloatArray,
    wide: FloatArray,
    scale: FloatArray,
) -> pd.DataFrame:
    centred = effect - _median(effect, 2)
    read = np.isfinite(grid).sum(axis=3)
    # a spline read once is off as far as a spline and a place may be
    score = np.abs(centred) / np.where(read > 1, wide[..., None], np.hypot(wide, scale)[..., None])
    # where every spline was read once, each is a place
    enough = (read >= 2) | ((read == 1) & (read >= 2).any(axis=2, keepdims=True))
    # all its places must be off alike
    alike = np.where(np.isfinite(rest), np.abs(rest), 0.0).max(axis=3) < PLACE_SDS * scale[..., None]
    unit, visit, spline = np.nonzero((score > SPLINE_SDS) & enough & alike)
    at = (unit, visit, spline)
    found = _median(grid, 3)[..., 0][at]
    return pd.DataFrame(
        {
            "inspection": names[block.inspection[unit, visit]],
            "spline": spline + 1,
            "station": None,
            "found_um": found,
            "expected_um": found - centred[at],
            "why": _why(StrayRemark.SPLINE, centred[at], 1.5 * wide[unit, visit]),
            "score": score[at],
        }
    )


def _why(code: StrayRemark, off_um: FloatArray, scale: FloatArray) -> pd.Series:
    """Remark every difference, with the slip that would explain it where one lies nearest and near enough."""
    size = np.array([slip for slip, _ in _SLIPS])
    miss = np.abs(np.abs(off_um)[:, None] - size)
    nearest = miss.argmin(axis=1)
    near = miss.min(axis=1) < np.minimum(2 * scale, 0.2 * size[nearest])
    slips = [_SLIPS[at][1] if close else None for at, close in zip(nearest, near, strict=True)]
    return pd.Series([remark(code, slip=slip) for slip in slips], dtype=object)


def _swaps(block: WidthBlock, names: NDArray[np.object_], grid: FloatArray, scale: FloatArray) -> pd.DataFrame:
    """Judge every later inspection of a unit against the first: stations reversed, or two splines exchanged."""
    first, later = grid[:, :1], grid[:, 1:]
    common = np.isfinite(first) & np.isfinite(later)
    variance = scale[:, :1] ** 2 + scale[:, 1:] ** 2
    written = _misfit(later - first)
    turned = later[..., ::-1]
    both = common & np.isfinite(turned)
    full = both.sum(axis=(2, 3)) >= 4
    as_read = _misfit(np.where(both, later - first, np.nan))
    reversed_ = _misfit(np.where(both, turned - first, np.nan))
    gain = np.where(full, (as_read - reversed_) / (2 * variance), 0.0)
    unit, visit = np.nonzero((gain > SWAP_GAIN) & (reversed_ < as_read / 2))
    rows = [
        _layout_rows(
            names[block.inspection[unit, visit + 1]],
            [remark(StrayRemark.STATIONS_EXCHANGED, inspection=str(name)) for name in names[block.inspection[unit, 0]]],
            gain[unit, visit],
        )
    ]
    level = np.nan_to_num(_median(np.where(common, later - first, np.nan).reshape(*later.shape[:2], -1), 2))
    moved = later - level[..., None]
    # cost[s, t]: spline s of the first against spline t of the later one, where both were read in full
    apart = first[:, :, :, None, :] - moved[:, :, None, :, :]
    cost = (apart**2).sum(axis=4)
    own = np.diagonal(cost, axis1=2, axis2=3)
    better = (own[..., :, None] + own[..., None, :] - cost - np.swapaxes(cost, 2, 3)) / (2 * variance[..., None, None])
    better = np.where(np.isfinite(better), np.triu(np.ones(better.shape[-2:]), 1) * better, 0.0)
    flat = better.reshape(*better.shape[:2], -1)
    best, where = flat.max(axis=2), flat.argmax(axis=2)
    # where the stations are exchanged, or much else disagrees, a pair of splines explains little
    unit, visit = np.nonzero((best > SWAP_GAIN) & (gain <= SWAP_GAIN) & (best * 2 * variance > written / 2))
    one, other = np.divmod(where[unit, visit], grid.shape[2])
    why = [
        remark(StrayRemark.SPLINES_EXCHANGED, inspection=str(name), spline=int(spline) + 1)
        for name, spline in zip(names[block.inspection[unit, 0]], other, strict=True)
    ]
    rows.append(_layout_rows(names[block.inspection[unit, visit + 1]], why, best[unit, visit]).assign(spline=one + 1))
    return pd.concat([each for each in rows if len(each)], ignore_index=True) if any(map(len, rows)) else rows[0]


def _against_fleet(
    blocks: list[WidthBlock], names: NDArray[np.object_], grids: list[FloatArray], stations: list[FloatArray]
) -> pd.DataFrame:
    """Find inspections of a pattern whose taper is the fleet's the wrong way round; silent where the fleet has none."""
    read = np.concatenate([np.all(np.isfinite(grid[..., [0, -1]]).any(axis=2), axis=2).ravel() for grid in grids])
    taper = np.concatenate([(each[..., -1] - each[..., 0]).ravel() for each in stations])[read]
    inspection = np.concatenate([block.inspection.ravel() for block in blocks])[read]
    if taper.size < _LEAST_FLEET:
        return pd.DataFrame()
    usual = float(np.median(taper))
    spread = max(1.4826 * float(np.median(np.abs(taper - usual))), 2.0)
    gain = -2 * taper * usual / spread**2
    turned = (gain > SWAP_GAIN) & (np.abs(taper + usual) < 3 * spread)
    why = [remark(StrayRemark.TAPER_TURNED)] * int(turned.sum())
    return _layout_rows(names[inspection[turned]], why, gain[turned])


def _misfit(apart: FloatArray) -> FloatArray:
    """Give the sum of squares of differences round their mean, per inspection."""
    there = np.isfinite(apart)
    number = np.maximum(there.sum(axis=(2, 3)), 1)
    clean = np.where(there, apart, 0.0)
    return np.asarray((clean**2).sum(axis=(2, 3)) - clean.sum(axis=(2, 3)) ** 2 / number, dtype=float)


def _layout_rows(inspection: NDArray[np.object_], why: list[Remark], score: FloatArray) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "inspection": inspection,
            "spline": None,
            "station": None,
            "found_um": np.nan,
            "expected_um": np.nan,
            "why": pd.Series(why, dtype=object),
            "score": score,
        }
    )
