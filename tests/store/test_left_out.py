"""A pattern whose sizes cannot be ends no question of another; who asks about it alone is told what is wrong."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

import wearstats
from tests.store.support.small_store import LATE, PATTERN, fitting, inspection, make_store, readings_of, small_rows
from tests.studies.support.small_demo import make_small_demo
from wearstats.cli.main import app
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError, InputError
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, open_store
from wearstats.store.left_out import leave_out_impossible, left_out_of
from wearstats.studies.demo import demo_as_of

SWAPPED = "update patterns set minor_mm = 36, major_mm = 32 where pattern = 'D9'"


def two_patterns(path: Path) -> Path:
    """Make the small store with a shaft of another pattern, measured and fitted."""
    rows = small_rows()
    rows["patterns"].append(PATTERN | {"pattern": "D9"})
    rows["shafts"].append({"shaft": "S9", "pattern": "D9"})
    rows["inspections"].append(inspection("I9", shaft="S9"))
    rows["readings"] += readings_of("I9", ["5.981"] * 4 + ["5.979"] * 4)
    rows["hubs"].append({"hub": "H9", "pattern": "D9", "undersize_um": "50"})
    rows["fittings"].append(fitting("F9", "H9", "2026-03-01") | {"shaft": "S9"})
    rows["follow_ups"].append({"fitting": "F9", "seen_on": "2026-03-20", "state": "tight"})
    return make_store(path, rows)


def spoiled(path: Path, *changes: str) -> Path:
    with open_store(path, write=True) as store:
        for change in changes:
            store.execute(change)
    return path


def test_nothing_is_left_out_where_all_can_be(tmp_path: Path) -> None:
    with open_store(two_patterns(tmp_path / "two.duckdb")) as store:
        assert leave_out_impossible(store) == ()
        assert left_out_of(store, "S9") is None


def test_all_that_hangs_on_it_is_hidden_and_nothing_else(tmp_path: Path) -> None:
    with open_store(spoiled(two_patterns(tmp_path / "two.duckdb"), SWAPPED)) as store:
        (left,) = leave_out_impossible(store)
        assert (left.pattern, left.shafts) == ("D9", 1)
        assert "pattern D9 is left out, with its 1 shaft" in str(left)
        assert "--correct" in str(left)
        for name, rows in small_rows().items():
            assert store.value(f"select count(*) from {name}") == len(rows), name
            assert store.value(f"select count(*) from known_{name}($as_of::date)", {"as_of": LATE}) == len(rows), name
        # and asked again it is the same
        assert leave_out_impossible(store) == (left,)
        assert left_out_of(store, "S9") == left
        assert left_out_of(store, "S1") is None


def test_a_check_sees_it_still(tmp_path: Path) -> None:
    with open_store(spoiled(two_patterns(tmp_path / "two.duckdb"), SWAPPED)) as store:
        found = [each.place for each in run_checks(store, as_of=LATE) if each.check == "patterns_impossible"]
    assert found == ["pattern D9"]


def test_a_row_corrected_since_holds_from_the_day_of_the_wrong_one(tmp_path: Path) -> None:
    later = "insert into intakes (intake, added_on, added_at, files, bulk) values (2, '2026-06-01', now(), 1, false)"
    names = ", ".join(PATTERN)
    past = f"insert into history_patterns ({names}, stations, intake, replaced_by) select {names}, stations, 1, 2 "
    changes = (
        later,
        f"{past} from patterns where pattern = 'D9'",
        SWAPPED.replace("update patterns", "update history_patterns"),
        "update patterns set intake = 2 where pattern = 'D9'",
    )
    with open_store(spoiled(two_patterns(tmp_path / "two.duckdb"), *changes)) as store:
        then = datetime.date(2026, 5, 1)
        asked = "select major_mm from known_patterns($as_of::date) where pattern = 'D9'"
        assert store.value(asked, {"as_of": then}) == 32
        assert leave_out_impossible(store) == ()
        assert store.value(asked, {"as_of": then}) == 36
        assert store.value(asked, {"as_of": LATE}) == 36


def test_the_others_are_answered_for(tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    make_small_demo(path, shafts=30)
    spoiled(path, SWAPPED.replace("D9", "D10"))
    with pytest.warns(UserWarning, match="pattern D10 is left out, with its"):
        shop = wearstats.open_store(path, as_of=demo_as_of())
    with shop:
        assert set(shop.wear().to_dict()["by_pattern"]) == {"D8"}
        with pytest.raises(InputError, match=r"pattern D10, major_mm: 32.*more than the minor diameter 36"):
            shop.shaft("S0004")
        with pytest.raises(AnalysisError):
            shop.shaft("S99")
    with pytest.raises(InputError, match="pattern D10, major_mm"):
        wearstats.open_store(path, as_of=demo_as_of(), pattern="D10")
    asked = ["limits", "--store", str(path), "--as-of", demo_as_of().isoformat(), "--json"]
    for more in ([], ["--no-cache"], []):
        document = json.loads(CliRunner().invoke(app, [*asked, *more]).stdout)
        assert [note[:32] for note in document["notes"]] == ["pattern D10 is left out, with it"]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Store:
    return open_store(make_store(tmp_path_factory.mktemp("bench") / "small.duckdb"), write=True)


@given(
    splines=st.integers(1, 20),
    width=st.floats(-1, 20),
    minor=st.floats(-1, 40),
    major=st.floats(-1, 40),
    stations=st.lists(st.sampled_from(["shoulder", "middle", "nut-end"]), max_size=3),
)
def test_the_check_says_what_the_domain_says(
    bench: Store, splines: int, width: float, minor: float, major: float, stations: list[str]
) -> None:
    sizes = {"splines": splines, "width_mm": width, "minor_mm": minor, "major_mm": major}
    bench.execute(
        "update patterns set splines = $splines, width_mm = $width_mm, minor_mm = $minor_mm, major_mm = $major_mm, "
        "stations = $stations::varchar[]",
        sizes | {"stations": stations},
    )
    try:
        Pattern(
            pattern="D8",
            splines=splines,
            width_mm=width,
            space_width_mm=6.01,
            minor_mm=minor,
            major_mm=major,
            engaged_mm=28.0,
            stations=tuple(stations),
        )
        can_be = True
    except InputError:
        can_be = False
    assert (run_checks(bench, as_of=LATE, checks=("patterns_impossible",)) == []) == can_be
    assert (leave_out_impossible(bench) == ()) == can_be
    for name in ("patterns", "history_patterns"):
        bench.execute(f"drop view if exists temp.{name}")
