"""A fleet too large to be fitted whole is answered for from a sample, and the sample of all of it is all of it."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks.scale_store import ADDED_ON, AS_OF, TRUTH, write_store
from wearstats.analysis.widths.data import share_few_measurers
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.report.wear.sentences import wear_sentences
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.gauging.study import study_gauging
from wearstats.studies.inputs import width_fit
from wearstats.studies.inputs.large_fleet_widths import read_fleet_levels
from wearstats.studies.inputs.width_fit import FittedWidths, data_to_fit, width_components
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.study import study_wear

SHAFTS, SAMPLE = 1500, 1000
DAY = datetime.date.fromisoformat(AS_OF)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("fleet") / "fleet.duckdb"
    write_store(path, SHAFTS, threads=1)
    return path


@pytest.fixture(scope="module")
def store(path: Path) -> Iterator[Store]:
    with open_store(path) as opened:
        yield opened


@pytest.fixture(scope="module")
def fleet(store: Store) -> Snapshot:
    """Give the fleet as one small enough to be fitted whole."""
    return Snapshot(store=store, known_on=DAY)


@pytest.fixture(scope="module")
def whole(fleet: Snapshot) -> FittedWidths:
    return width_components(fleet)


def ask_as_large(store: Store) -> Snapshot:
    """Ask of the same fleet as of one too large for that: the model is fitted to a sample of it."""
    large = Snapshot(store=store, known_on=DAY)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(width_fit, "SAMPLE_SHAFTS", SAMPLE)
        width_components(large)
    return large


@pytest.fixture(scope="module")
def large(store: Store) -> Snapshot:
    return ask_as_large(store)


@pytest.fixture(scope="module")
def sampled(large: Snapshot) -> FittedWidths:
    return width_components(large)


def test_the_store_written_straight_is_as_intake_leaves_it(tmp_path: Path) -> None:
    straight, taken = tmp_path / "straight.duckdb", tmp_path / "taken.duckdb"
    write_store(straight, 40, threads=1)
    files = []
    with open_store(straight) as store:
        store.allow_files()
        for table, columns in {
            "patterns": "* exclude (intake, stations), array_to_string(stations, ';') as stations",
            "gauges": "gauge, kind, unit, resolution",
            "shafts": "* exclude (intake)",
            "inspections": "* exclude (intake, register_mm, major_mm, check_reading_mm, check_piece_mm), "
            "check_piece_mm as check_piece",
            "readings": "inspection, spline, station, trial, typed as width",
        }.items():
            files.append(tmp_path / f"{table}.csv")
            store.table(f"select {columns} from {table}").dropna(axis=1, how="all").to_csv(files[-1], index=False)
    create_store(taken)
    with open_store(taken, write=True) as store:
        report = add_files(store, files, added_on=datetime.date.fromisoformat(ADDED_ON))
        assert sum(each.rejected + each.conflict for each in report.files) == 0
        found = {name: _sorted(store, name) for name in ("inspection_moments", "reading_counts", "readings", "shafts")}
    with open_store(straight) as store:
        for name, frame in found.items():
            pd.testing.assert_frame_equal(frame, _sorted(store, name), check_dtype=False)


def _sorted(store: Store, table: str) -> pd.DataFrame:
    frame = store.table(f"select * from {table}").drop(columns="intake", errors="ignore")
    return frame.sort_values(list(frame.columns)).reset_index(drop=True)


def test_a_sample_of_all_is_fitted_as_all(fleet: Snapshot, whole: FittedWidths) -> None:
    every = fleet.query("widths/sample", most=SHAFTS, most_coarse=SHAFTS,
                        coarse_home_um=12.5, coarse_workshop_um=5.0, coarse_caliper_um=25.0)  # fmt: skip
    readings = read_widths(fleet, shafts=every["shaft"].tolist(), of_shafts=SHAFTS)
    pd.testing.assert_frame_equal(readings.inspections, whole.readings.inspections)
    pd.testing.assert_frame_equal(readings.moments, whole.readings.moments)
    data = data_to_fit(readings)
    for one, other in zip(data.blocks, whole.data.blocks, strict=True):
        np.testing.assert_array_equal(one.mean, other.mean)
    pd.testing.assert_frame_equal(data.inspections, whole.data.inspections)


def test_mean_widths_of_all_are_those_of_the_maps(fleet: Snapshot, whole: FittedWidths) -> None:
    levels = read_fleet_levels(fleet, whole.fit, whole.readings.shapes)
    expected = study_wear(fleet).fleet
    rows = levels.rows
    assert sum(levels.readings.values()) == int(whole.readings.moments["n"].sum())
    for name in ("pattern", "shaft", "region", "duty"):
        assert rows[name].astype(str).tolist() == expected[name].astype(str).tolist()
    steps = whole.readings.inspections.groupby("shaft")["step_um"].max()
    fine = (rows["shaft"].map(steps) < 12).to_numpy()
    for name in ("width_um_below_new", "sd_um", "read_um_below_new", "read_sd_um"):
        np.testing.assert_allclose(rows.loc[fine, name], expected.loc[fine, name], atol=2e-4)
    # of readings in coarse steps the mean hardly hangs on whether they count as intervals
    off = (rows["read_um_below_new"] - expected["read_um_below_new"]) / expected["read_sd_um"]
    assert float(np.abs(off).max()) < 0.5


def test_estimates_from_a_sample_hold_the_truth(sampled: FittedWidths) -> None:
    assert sampled.sampled_shafts is not None
    assert SAMPLE <= sampled.sampled_shafts < SHAFTS
    names = ("spline", "shaft_station", "cell", "measurer_home", "inspection_home", "repeatability_home")
    for name in (*names, "repeatability_workshop"):
        estimate = sampled.fit.components_um[name]
        assert estimate.low is not None
        assert estimate.high is not None
        # seven intervals together at 95 %: each 2.69 standard errors wide in place of 1.96 (Bonferroni)
        slack = (2.69 / 1.96 - 1) * (estimate.high - estimate.low) / 2
        assert estimate.low - slack <= TRUTH[name] <= estimate.high + slack, name
    bias, se = sampled.fit.mean_of("class:home") or (np.nan, np.nan)
    assert abs(bias - TRUTH["bias_home"]) < 3 * se


def test_answers_say_what_rests_on_a_sample(large: Snapshot, sampled: FittedWidths) -> None:
    wear, gauging = study_wear(large), study_gauging(large)
    assert wear.to_dict()["shafts"] == SHAFTS
    assert wear.to_dict()["components_from_shafts"] == sampled.sampled_shafts
    assert gauging.to_dict()["of_shafts"] == SHAFTS
    assert any("taken at random" in line for line in wear_sentences(wear))
    assert any("taken at random" in line for line in gauging_sentences(gauging))
    assert wear.unworn_share.low is None or wear.unworn_share.low <= TRUTH["unworn"] <= (wear.unworn_share.high or 1)


def test_the_same_store_gives_the_same_sample(store: Store, sampled: FittedWidths) -> None:
    again = width_components(ask_as_large(store))
    assert again.fit.criterion == sampled.fit.criterion


def test_measurers_beyond_the_most_couple_no_units(sampled: FittedWidths) -> None:
    data = sampled.data
    fewer = share_few_measurers(data, 3)
    units = fewer.inspections.groupby("measurer")["unit"].nunique()
    assert int((units > 1).sum()) == 3
    assert share_few_measurers(fewer, 3) is fewer
    # within a unit the same hands stay the same
    before, after = (each.inspections.groupby("unit")["measurer"].nunique() for each in (data, fewer))
    pd.testing.assert_series_equal(before, after)
