"""Each check finds what was planted, says where, and finds nothing where nothing is wrong."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path

import pandas as pd
import pytest

from tests.store.support.small_store import LATE, LOADED_ON, add, fitting, inspection, make_store, readings_of
from wearstats.resources import resource
from wearstats.store.checks import CHECKS, Finding, run_checks
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files, add_frames

Row = dict[str, str | None]
WIDTHS = ["5.981", "5.973", "5.968", "5.979", "5.977", "5.983", "5.962", "5.976"]


def _findings(path: Path, as_of: datetime.date = LATE) -> list[Finding]:
    with open_store(path) as store:
        return run_checks(store, as_of=as_of)


def _told(findings: list[Finding]) -> list[tuple[str, str, str]]:
    return [(finding.check, finding.place, finding.found) for finding in findings]


def _found(path: Path, rows: dict[str, list[Row]]) -> list[tuple[str, str, str]]:
    """Add planted rows to the small store and give what the checks find."""
    with open_store(path, write=True) as store:
        add(store, rows, added_on=LATE)
        return _told(run_checks(store, as_of=LATE))


def _found_after(path: Path, *changes: str) -> list[tuple[str, str, str]]:
    """Change rows of the small store past the intake and give what the checks find."""
    with open_store(path, write=True) as store:
        for change in changes:
            store.execute(change)
        return _told(run_checks(store, as_of=LATE))


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("sound") / "small.duckdb")


@pytest.fixture
def path(sound: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(sound, tmp_path))


def test_nothing_is_found_where_nothing_is_wrong(path: Path) -> None:
    assert _findings(path) == []


def test_a_store_without_rows_has_no_findings(tmp_path: Path) -> None:
    create_store(tmp_path / "empty.duckdb")
    assert _findings(tmp_path / "empty.duckdb") == []


def test_width_above_new(path: Path) -> None:
    at_limit = ["6.050", *WIDTHS[1:]]
    above = ["6.050", "6.051", "6.060", *WIDTHS[3:]]
    rows = {
        "inspections": [inspection("I3"), inspection("I4")],
        "readings": readings_of("I3", at_limit) + readings_of("I4", above),
    }
    assert _found(path, rows) == [
        (
            "widths_above_new",
            "inspection I4, shaft S1",
            "2 of its widths more than 50 µm above the new 6.000 mm; most: spline 3, middle, 6.0600 mm",
        )
    ]


def test_all_readings_equal(path: Path) -> None:
    rows = {
        "inspections": [inspection("I3"), inspection("I4")],
        # one spline read again and again may well give the same
        "readings": readings_of("I3", ["5.98"] * 8) + readings_of("I4", [*["5.98"] * 7, "5.97"]),
    }
    assert _found(path, rows) == [("readings_all_equal", "inspection I3, shaft S1", "all 8 readings are 5.9800 mm")]


# 0.2354 in = 5.97916 mm and so on, by 25.4 mm to the inch: thousandths and half thousandths rounded to 0.001 mm
THOU_IN_MM = [f"{round(thou * 25.4) / 1000:.3f}" for thou in (235, 236, 234, 235, 236, 235, 234, 235)]
HALF_THOU_IN_MM = [f"{round(half * 12.7) / 1000:.3f}" for half in (469, 470, 471, 472, 469, 470, 471, 471)]


@pytest.mark.parametrize(
    ("widths", "step"),
    [
        (THOU_IN_MM, "3 different values fall on steps of 0.001 in"),
        (HALF_THOU_IN_MM, "4 different values fall on steps of 0.0005 in"),
    ],
)
def test_millimetres_on_inch_steps(path: Path, widths: list[str], step: str) -> None:
    rows = {"inspections": [inspection("I3")], "readings": readings_of("I3", widths)}
    expected = ("widths_on_inch_steps", "inspection I3, shaft S1", f"said to be in mm, yet all {step}")
    assert _found(path, rows) == [expected]


@pytest.mark.parametrize(
    ("widths", "unit", "gauge"),
    [
        # a coarse metric gauge
        (["5.98", "5.97", "5.96", "5.98", "5.97", "5.95", "5.96", "5.98"], "mm", "G1"),
        # one value off the steps
        ([*THOU_IN_MM[:7], "5.972"], "mm", "G1"),
        # said to be in inches, as it should be
        (["0.235", "0.236", "0.234", "0.235", "0.236", "0.235", "0.234", "0.235"], "in", "G2"),
    ],
)
def test_what_a_gauge_may_well_read_is_no_inch_step(path: Path, widths: list[str], unit: str, gauge: str) -> None:
    rows: dict[str, list[Row]] = {
        "gauges": [{"gauge": "G2", "kind": "micrometer-flat", "unit": "in", "resolution": "0.001"}],
        "inspections": [inspection("I3", unit=unit, gauge=gauge)],
        "readings": readings_of("I3", widths),
    }
    assert _found(path, rows) == []


def test_half_the_splines_missing(path: Path) -> None:
    rows = {
        "inspections": [inspection("I3"), inspection("I4"), inspection("I5")],
        "readings": readings_of("I3", WIDTHS[:4]) + readings_of("I4", WIDTHS[:5]),
    }
    assert _found(path, rows) == [
        ("splines_missing", "inspection I3, shaft S1", "readings of 4 of 8 splines"),
        ("splines_missing", "inspection I5, shaft S1", "readings of 0 of 8 splines"),
    ]


def test_inspection_later_than_the_fitting_that_names_it(path: Path) -> None:
    assert _found_after(path, "update fittings set inspections = ['I1', 'I2'] where fitting = 'F1'") == [
        (
            "inspections_after_fitting",
            "fitting F1, shaft S1",
            "fitted on 2026-01-20, but names inspection I2 of 2026-03-20",
        )
    ]


def test_a_month_is_taken_for_its_last_day(path: Path) -> None:
    rows: dict[str, list[Row]] = {
        "inspections": [inspection("I3", measured_on="2026-05-20")],
        "readings": readings_of("I3", WIDTHS),
        "hubs": [{"hub": "H3", "pattern": "D8", "undersize_um": "50"}],
        "fittings": [fitting("F3", "H3", "2026-05", inspections="I3", refit_of="F2")],
    }
    assert _found(path, rows) == []


@pytest.mark.parametrize(
    ("follow_up", "returned", "refit_of", "found"),
    [
        (None, None, None, "is not known to have come off"),
        (("tight", "2026-03-18"), None, None, "is not known to have come off"),
        (("loose", "2026-04-18"), None, None, "came off only on 2026-04-18"),
        (("loose", "2026-03-18"), None, None, None),
        (("broken", "2026-03-18"), None, None, None),
        (("removed", "2026-03-18"), None, None, None),
        (None, "2026-03-01", None, None),
        (None, None, "F1", None),
    ],
)
def test_two_hubs_on_a_shaft_at_once(
    path: Path, follow_up: tuple[str, str] | None, returned: str | None, refit_of: str | None, found: str | None
) -> None:
    changes = ["delete from follow_ups", "delete from returns"]
    if follow_up is not None:
        state, seen_on = follow_up
        changes.append(
            f"insert into follow_ups (fitting, seen_on, state, intake) values ('F1', '{seen_on}', '{state}', 1)"
        )
    if returned is not None:
        # named by its hub alone
        changes.append(
            f"insert into returns (hub, returned_on, reason, intake) values ('H1', '{returned}', 'other', 1)"
        )
    if refit_of is not None:
        changes.append(f"update fittings set refit_of = '{refit_of}' where fitting = 'F2'")
    whole = f"hub H2 fitted on 2026-03-25, while hub H1 (fitting F1) {found}"
    expected = [] if found is None else [("hubs_at_once", "shaft S1, fitting F2", whole)]
    assert _found_after(path, *changes) == expected


def test_a_hub_that_never_went_on_is_not_on_the_shaft(path: Path) -> None:
    never = "update fittings set went_on = 'would-not' where fitting = 'F1'"
    assert _found_after(path, "delete from follow_ups", "delete from returns", never) == []


def test_each_hub_is_held_against_the_one_before_it_only(path: Path) -> None:
    """Of F1, never heard of again, F2, its refit F3 and F4 on a hub that F3 is known to have left, F2 alone is odd."""
    rows: dict[str, list[Row]] = {
        "hubs": [{"hub": f"H{number}", "pattern": "D8", "undersize_um": "50"} for number in (3, 4)],
        "fittings": [
            fitting("F3", "H3", "2026-05-01", refit_of="F2"),
            fitting("F4", "H4", "2026-06-01"),
        ],
        "follow_ups": [{"fitting": "F3", "seen_on": "2026-05-20", "state": "removed"}],
    }
    with open_store(path, write=True) as store:
        store.execute("delete from follow_ups")
        store.execute("delete from returns")
    assert [(check, place) for check, place, _ in _found(path, rows)] == [("hubs_at_once", "shaft S1, fitting F2")]


def test_hubs_whose_days_are_not_known_are_not_put_in_order(path: Path) -> None:
    unknown = "update fittings set fitted_on = null, fitted_from = null, fitted_to = null where fitting = 'F1'"
    assert _found_after(path, "delete from follow_ups", "delete from returns", unknown) == []


def test_tight_after_broken(path: Path) -> None:
    follow_ups: list[Row] = [
        {"fitting": "F2", "seen_on": "2026-05-01", "state": "broken"},
        {"fitting": "F2", "seen_on": "2026-06-01", "state": "tight"},
        {"fitting": "F2", "seen_on": "2026-07-01", "state": "tight"},
    ]
    assert _found(path, {"follow_ups": follow_ups}) == [
        ("tight_after_broken", "fitting F2", "broken on 2026-05-01, tight on 2026-06-01")
    ]


def test_follow_up_before_fitting(path: Path) -> None:
    rows: dict[str, list[Row]] = {"follow_ups": [{"fitting": "F2", "seen_on": "2026-03-24", "state": "tight"}]}
    assert _found(path, rows) == [
        ("follow_ups_before_fitting", "fitting F2", "tight on 2026-03-24, but fitted on 2026-03-25")
    ]


@pytest.mark.parametrize(
    ("missing", "places"),
    [
        ("delete from patterns", {"shaft S1", "hub H1", "hub H2", "batch B1"}),
        ("delete from gauges", {"inspection I1", "inspection I2"}),
        (
            "delete from shafts",
            {"inspection I1", "inspection I2", "fitting F1", "fitting F2", "dispatch of hub H1"},
        ),
        (
            "delete from inspections where inspection = 'I1'",
            {"8 readings", "fitting F1", "fitting F2", "dispatch of hub H1"},
        ),
        ("delete from batches", {"hub H1", "hub H2"}),
        ("delete from hubs where hub = 'H1'", {"fitting F1", "dispatch of 2026-01-10", "return of 2026-03-30"}),
        (
            "delete from fittings where fitting = 'F1'",
            {"follow-up of 2026-02-20", "follow-up of 2026-03-18", "return of hub H1"},
        ),
    ],
)
def test_rows_that_name_what_is_not_there(path: Path, missing: str, places: set[str]) -> None:
    orphans = [finding for finding in _found_after(path, missing) if finding[0] == "orphans"]
    assert {place for _, place, _ in orphans} == places
    assert all("which has no row of its own" in found for _, _, found in orphans)


def test_rows_kept_out_are_found_until_they_are_mended(path: Path) -> None:
    slipped: Row = {"inspection": "I1", "spline": "1", "station": "shoulder", "width": "59.8"}
    with open_store(path, write=True) as store:
        add_frames(store, {"readings": pd.DataFrame([slipped], dtype=object)}, added_on=datetime.date(2026, 4, 1))
        found = run_checks(store, as_of=LATE)
        assert [finding.check for finding in found] == ["rejects_open"]
        assert found[0].place == "readings, added on 2026-04-01"
        assert found[0].found.startswith(
            "1 row of readings kept out and not yet mended; the first: row 2, '59.8' is far"
        )
        assert run_checks(store, as_of=datetime.date(2026, 3, 31)) == []
        mended = pd.DataFrame([slipped | {"width": "5.98", "reject": "1"}], dtype=object)
        add_frames(store, {"readings": mended}, added_on=datetime.date(2026, 4, 8))
        assert run_checks(store, as_of=LATE) == []
        # on a day before it was mended it was still open
        assert len(run_checks(store, as_of=datetime.date(2026, 4, 2))) == 1


def test_what_was_not_known_yet_is_not_found(path: Path) -> None:
    news = "insert into follow_ups (fitting, seen_on, state, intake) values ('F2', '2026-05-01', 'broken', 1)"
    assert _found_after(path, news, news.replace("05-01', 'broken", "06-01', 'tight")) != []
    assert [finding.check for finding in _findings(path, datetime.date(2026, 5, 31))] == ["dated_ahead"]
    assert [finding.check for finding in _findings(path, datetime.date(2026, 6, 1))] == ["tight_after_broken"]


def test_a_finding_says_where_what_and_what_to_do() -> None:
    finding = Finding(check="orphans", place="hub H1", found="names batch B9", next_step="add the row")
    assert str(finding) == "hub H1: names batch B9; add the row"
    assert finding.check in CHECKS


def test_the_demo_s_spoiled_inspections_are_found(tmp_path: Path) -> None:
    """The three inspections that data/README.md says were spoiled on purpose, and one reading at the rule's edge."""
    path = tmp_path / "demo.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        add_files(store, sorted(resource("data/demo").glob("*.csv")), added_on=LOADED_ON)
        found = {(finding.check, finding.place.partition(",")[0]) for finding in run_checks(store, as_of=LATE)}
    assert {
        ("readings_all_equal", "inspection I00056"),
        ("splines_missing", "inspection I00140"),
        ("widths_on_inch_steps", "inspection I00088"),
    } <= found
    assert {check for check, _ in found} <= {
        "readings_all_equal",
        "splines_missing",
        "widths_on_inch_steps",
        "widths_above_new",
    }


def test_more_marks_than_splines_are_told(path: Path) -> None:
    """The grid of the fitting sheet has two boxes a side: whoever counts boxes counts twice."""
    counted = fitting("F3", "H2", "2026-05-01", drive_marked="8", coast_marked="14", refit_of="F2")
    as_it_should = fitting("F4", "H2", "2026-05-02", drive_marked="8", coast_marked="7", refit_of="F3")
    found = _found(path, {"fittings": [counted, as_it_should]})
    assert ("marks_above_splines", "fitting F3, shaft S1", "14 sides bear on one side of 8 splines") in found
    assert not any("F4" in place for check, place, _ in found if check == "marks_above_splines")
