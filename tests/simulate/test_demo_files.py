"""The demo's files: committed as the seed makes them, small, plain, marked as invented."""

from __future__ import annotations

import datetime
import json
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from wearstats.domain.dates import parse_date, parse_day_or_month
from wearstats.domain.tables import TABLES
from wearstats.domain.typed import parse_size
from wearstats.domain.units import unit_or_none
from wearstats.resources import resource
from wearstats.simulate import DEMO_SEED
from wearstats.simulate.demo_files import write_demo
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

DRAWN = [table.name for table in TABLES if table.name != "photos"]
"""The tables of the demo; no picture is invented."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return write_demo(tmp_path_factory.mktemp("demo"))


def test_the_committed_files_are_what_the_seed_makes_bit_for_bit(made: list[Path]) -> None:
    kept = resource("data/demo")
    assert sorted(path.name for path in made) == sorted(path.name for path in kept.iterdir())
    for path in made:
        assert path.read_bytes() == (kept / path.name).read_bytes(), path.name


def test_there_is_one_plain_file_a_table_and_they_are_small(made: list[Path]) -> None:
    assert [path.name for path in made] == [*[f"{name}.csv" for name in DRAWN], "truth.json"]
    assert sum(path.stat().st_size for path in made) < 3_000_000
    for path in made:
        content = path.read_bytes()
        assert b"\r" not in content
        assert content.endswith(b"\n")
        content.decode("utf-8")


def test_the_demo_is_of_the_size_that_its_readme_states(made: list[Path]) -> None:
    rows = {path.stem: len(pd.read_csv(path)) for path in made[:-1]}
    assert 380 <= rows["shafts"] <= 430
    assert 450 <= rows["fittings"] <= 550


def test_the_truth_says_that_it_is_invented_and_from_which_seed(made: list[Path]) -> None:
    truth = json.loads(made[-1].read_text(encoding="utf-8"))
    assert truth["invented"] is True
    assert truth["seed"] == DEMO_SEED
    for key in ("components_um", "bias_um", "wear_um", "loosening", "methods", "growth_um_per_1000h", "gap_left_um"):
        assert truth[key]
    assert 0.06 < truth["loosening"]["mean_risk_12_months"] < 0.12


def test_the_fleet_is_no_outlier_and_as_supplied_fails_clearly_more(made: list[Path]) -> None:
    truth = json.loads(made[-1].read_text(encoding="utf-8"))
    realised = truth["stated_and_realised"]
    for name, each in realised.items():
        assert abs(each["realised"] - each["stated"]) <= each["standard_error"], name
    assert realised["risk_12_months_as_supplied"]["stated"] > 2 * realised["risk_12_months_hand"]["stated"]
    assert 40 <= truth["counts"]["failed_and_known"] <= 65


def test_one_command_remakes_the_files(tmp_path: Path, made: list[Path]) -> None:
    subprocess.run([sys.executable, "-m", "wearstats.simulate.demo_files", str(tmp_path)], check=True)
    for path in made:
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()


def test_the_readme_says_invented_and_lists_each_trouble(made: list[Path]) -> None:
    readme = resource("data/README.md").read_text(encoding="utf-8")
    assert "invented" in readme.lower()
    for trouble in json.loads(made[-1].read_text(encoding="utf-8"))["troubles"]:
        assert f"| {trouble['inspection']} | {trouble['what']} |" in readme


def test_every_typed_width_and_date_can_be_read(made: list[Path]) -> None:
    by_name = {path.stem: path for path in made}
    readings = pd.read_csv(by_name["readings"], dtype=str)
    inspections = pd.read_csv(by_name["inspections"], dtype=str)
    typed = readings.merge(inspections[["inspection", "unit"]], on="inspection").drop_duplicates(["unit", "width"])
    for width, unit in zip(typed["width"], typed["unit"], strict=True):
        known = unit_or_none(unit)
        assert known is not None
        assert 5000 < parse_size(width, known).tenths / 10 < 6100
    for day in inspections["measured_on"]:
        parse_date(day)
    for text in pd.read_csv(by_name["fittings"], dtype=str)["fitted_on"].dropna():
        parse_day_or_month(text)


def test_the_troubles_are_in_the_readings(made: list[Path]) -> None:
    by_name = {path.stem: path for path in made}
    readings = pd.read_csv(by_name["readings"], dtype=str)
    equal, halved, inch = (
        trouble["inspection"] for trouble in json.loads(by_name["truth"].read_text(encoding="utf-8"))["troubles"]
    )
    assert len(set(readings[readings["inspection"] == equal]["width"])) == 1
    assert readings[readings["inspection"] == halved]["spline"].astype(int).max() <= 5
    thou = readings[readings["inspection"] == inch]["width"].astype(float) / 0.0254
    assert ((thou - thou.round()).abs() < 0.021).all()


def test_every_row_is_taken_into_a_store(made: list[Path], tmp_path: Path) -> None:
    create_store(tmp_path / "demo.duckdb")
    with open_store(tmp_path / "demo.duckdb", write=True) as store:
        report = add_files(store, made[:-1], added_on=datetime.date(2026, 9, 30))
    assert report.kept_out == 0
    assert all(file.read == file.accepted > 0 for file in report.files)
    assert {file.table for file in report.files} == {*DRAWN}
