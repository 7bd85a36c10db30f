"""Stray readings: planted faults are found with the right words, and clean invented fleets are left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.gauging.outliers import COLUMNS, find_stray_readings
from wearstats.analysis.gauging.remarks import StrayRemark
from wearstats.analysis.widths.data import PatternShape, WidthBlock, WidthData, measuring_class, reduce_readings
from wearstats.domain.units import UM_PER_UNIT
from wearstats.report.remarks.say import say
from wearstats.simulate import Scenario, simulate

STATIONS = ("shoulder", "middle", "nut-end")


def simulated(seed: int, shafts: int = 1000) -> WidthData:
    """Invent a fleet without faults and reduce its readings."""
    fleet = simulate(Scenario(shafts=shafts), rng=np.random.default_rng(seed))
    frames = fleet.frames
    patterns = frames["patterns"].set_index("pattern")
    heads = frames["inspections"].merge(frames["gauges"], on="gauge", suffixes=("", "_gauge"))
    heads = heads.merge(frames["shafts"][["shaft", "pattern"]], on="shaft")
    heads = heads.merge(fleet.truth.inspections[["inspection", "period"]], on="inspection")
    to_um = heads["unit_gauge"].map(UM_PER_UNIT).astype(float)
    inspections = pd.DataFrame(
        {
            "inspection": heads["inspection"],
            "unit": heads["shaft"] + "#" + heads["period"].astype(str),
            "shaft": heads["shaft"],
            "pattern": heads["pattern"],
            "group": "",
            "measurer": heads["measured_by"] + heads["gauge"],
            "class": measuring_class(heads["measured_at"], heads["kind"]),
            "step_um": heads["resolution"].astype(float) * to_um,
            "check_um": np.nan,
            "marked": heads["spline_1_marked"].eq("yes"),
        }
    )
    new = heads["pattern"].map(patterns["width_mm"]).astype(float) * 1000
    scale = pd.DataFrame({"inspection": heads["inspection"], "to_um": heads["unit"].map(UM_PER_UNIT), "new": new})
    read = frames["readings"].merge(scale, on="inspection")
    read = read.assign(
        mean_um=read["width"].astype(float) * read["to_um"].astype(float) - read["new"],
        station=read["station"].map({name: at for at, name in enumerate(STATIONS)}),
    )
    moments = read.groupby(["inspection", "spline", "station"], as_index=False).agg(
        n=("mean_um", "size"), mean_um=("mean_um", "mean")
    )
    shapes = {
        str(name): PatternShape(
            pattern=str(name), splines=int(row["splines"]), stations=STATIONS, new_width_mm=float(row["width_mm"])
        )
        for name, row in patterns.iterrows()
    }
    return reduce_readings(moments.assign(within_um2=0.0), inspections, shapes)


@pytest.fixture(scope="module")
def clean() -> WidthData:
    return simulated(41)


def grid_of(block: WidthBlock) -> np.ndarray:
    """Show the places as units x inspections x splines x stations; changes of it change the block."""
    return block.mean[..., : block.shape.places].reshape(*block.mean.shape[:2], block.shape.splines, len(STATIONS))


def with_block(data: WidthData, at: int, grid: np.ndarray) -> WidthData:
    block = data.blocks[at]
    mean = block.mean.copy()
    mean[..., : block.shape.places] = grid.reshape(*mean.shape[:2], -1)
    return replace(data, blocks=(*data.blocks[:at], replace(block, mean=mean), *data.blocks[at + 1 :]))


def pair_block(data: WidthData) -> int:
    """Give the block with two inspections a unit and the most units."""
    return max(
        (at for at, block in enumerate(data.blocks) if block.inspection.shape[1] == 2),
        key=lambda at: len(data.blocks[at].unit),
    )


def complete(block: WidthBlock) -> np.ndarray:
    """Tell the units whose inspections all read every place."""
    return np.asarray((block.count[..., : block.shape.places] > 0).all(axis=(1, 2)))


def home(data: WidthData, block: WidthBlock) -> np.ndarray:
    return np.asarray(data.inspections["class"].eq("home").to_numpy()[block.inspection])


def share_found(data: WidthData, inspections: np.ndarray, words: str) -> float:
    found = find_stray_readings(data)
    named = found[found["why"].map(say).str.contains(words, regex=False)]["inspection"]
    return float(np.isin(data.inspections["inspection"].to_numpy(dtype=object)[inspections], named).mean())


@pytest.mark.parametrize("seed", [41, 42])
def test_clean_fleets_are_left_alone(seed: int) -> None:
    data = simulated(seed)
    found = find_stray_readings(data)
    assert list(found.columns) == list(COLUMNS)
    assert found["inspection"].nunique() < 0.01 * len(data.inspections), found.to_string()


@pytest.mark.parametrize(("off_um", "least"), [(30.0, 0.15), (50.0, 0.8), (100.0, 0.95), (500.0, 0.95)])
def test_outlying_place_is_found(clean: WidthData, off_um: float, least: float) -> None:
    block = clean.blocks[0]
    grid = grid_of(block).copy()
    # spline 3, middle, wherever an owner read it
    units = np.flatnonzero(home(clean, block)[:, 0] & (block.count[:, 0, 2 * len(STATIONS) + 1] > 0))[::5]
    grid[units, 0, 2, 1] += off_um
    faulty = with_block(clean, 0, grid)
    assert share_found(faulty, block.inspection[units, 0], "this place") >= least
    found = find_stray_readings(faulty)
    names = clean.inspections["inspection"].to_numpy(dtype=object)[block.inspection[units, 0]]
    mine = found[found["inspection"].isin(names) & (found["score"] > 5)]
    right = mine["spline"].eq(3) & mine["station"].eq("middle")
    if off_um < 50:
        # little more than the scatter of a home reading: a minority is found (0.24 when this was written)
        return
    assert right.mean() > 0.95
    off = (mine["found_um"] - mine["expected_um"])[right].astype(float)
    assert float(off.median()) == pytest.approx(off_um, abs=5)


def test_a_slip_is_found_where_its_spline_was_read_only_once(clean: WidthData) -> None:
    block = clean.blocks[0]
    grid, count = grid_of(block).copy(), block.count.copy()
    units = np.flatnonzero(home(clean, block)[:, 0] & complete(block))[::5]
    # spline 4 only in the middle, and there with two figures exchanged
    first = 3 * len(STATIONS)
    count[units, 0, first] = count[units, 0, first + 2] = 0.0
    grid[units, 0, 3, 1] -= 720.0
    faulty = with_block(clean, 0, grid)
    faulty = replace(faulty, blocks=(replace(faulty.blocks[0], count=count), *faulty.blocks[1:]))
    found = find_stray_readings(faulty)
    found = found[(found["score"] > 12) & found["spline"].eq(4)]
    names = clean.inspections["inspection"].to_numpy(dtype=object)[block.inspection[units, 0]]
    assert np.isin(names, found["inspection"]).mean() > 0.95


def test_slip_in_a_row_is_found_and_named(clean: WidthData) -> None:
    block = clean.blocks[0]
    grid = grid_of(block).copy()
    units = np.flatnonzero(home(clean, block)[:, 0] & complete(block))[::5]
    grid[units, 0, 4] -= 500.0
    rows = block.inspection[units, 0]
    assert share_found(with_block(clean, 0, grid), rows, "whole turn of the thimble (0.5 mm)") > 0.95


def test_exchanged_stations_are_found_where_another_inspection_tells(clean: WidthData) -> None:
    at = pair_block(clean)
    block = clean.blocks[at]
    grid = grid_of(block).copy()
    # a shaft worn 30 um more at its nut end, read so by both, then turned round in the second inspection
    units = np.flatnonzero(complete(block))
    grid[units, ..., 2] -= 30.0
    grid[units, 1] = grid[units, 1, :, ::-1]
    assert share_found(with_block(clean, at, grid), block.inspection[units, 1], "nut end look exchanged") > 0.7


def test_exchanged_stations_are_found_where_all_shafts_taper_alike(clean: WidthData) -> None:
    tapered = replace(
        clean,
        blocks=tuple(
            replace(block, mean=block.mean + np.where(np.arange(block.shape.slots) % 3 == 2, -60.0, 0.0))
            for block in clean.blocks
        ),
    )
    assert not find_stray_readings(tapered)["why"].map(lambda why: why.code == StrayRemark.TAPER_TURNED).any()
    block = tapered.blocks[0]
    grid = grid_of(block).copy()
    units = np.flatnonzero(complete(block))[::8]
    grid[units, 0] = grid[units, 0, :, ::-1]
    assert share_found(with_block(tapered, 0, grid), block.inspection[units, 0], "wrong way round") > 0.7


def test_exchanged_splines_are_found_where_another_inspection_tells(clean: WidthData) -> None:
    at = pair_block(clean)
    block = clean.blocks[at]
    grid = grid_of(block).copy()
    units = np.flatnonzero(complete(block))
    # two splines that differ by 40 um: in both inspections, but exchanged in the second
    grid[units, :, 1] += 25.0
    grid[units, :, 5] -= 15.0
    grid[units, 1] = grid[units, 1][:, [0, 5, 2, 3, 4, 1, *range(6, block.shape.splines)]]
    assert share_found(with_block(clean, at, grid), block.inspection[units, 1], "the other is spline 6") > 0.7


def test_nothing_is_dropped_or_changed(clean: WidthData) -> None:
    before = [block.mean.copy() for block in clean.blocks]
    find_stray_readings(clean)
    assert all(np.array_equal(block.mean, mean) for block, mean in zip(clean.blocks, before, strict=True))
