"""An owner's sheet as text: what it does not name is named, blanks say nothing, what is said twice is refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport

SHEET = """readings
form: measuring D8 0a1b2c
pattern: D8
shaft: S7
measured_on: 2026-04-01
measured_by: owner 9
measured_at: home
kind: micrometer-flat
unit: mm
resolution: 0.01
hours:
remark: a dent: on spline 3
spline;shoulder;middle;nut-end
1;5.98;5.96;5.98
2;5.97;;5.98
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def added(store: Store, text: str) -> IntakeReport:
    return add_files(store, [], text=text, added_on=LATE)


def accepted(report: IntakeReport) -> dict[str, int]:
    counts: dict[str, int] = {}
    for file in report.files:
        counts[file.table] = counts.get(file.table, 0) + file.accepted
    return counts


def test_a_pasted_sheet_names_its_inspection_and_gauge(store: Store) -> None:
    report = added(store, SHEET)
    assert report.kept_out == 0
    assert accepted(report) == {"gauges": 1, "shafts": 1, "inspections": 1, "readings": 5}
    assert store.rows("select inspection, gauge, hours from inspections where shaft = 'S7'") == [
        ("S7 2026-04-01 owner 9", "owner 9 micrometer-flat 0.01 mm", None)
    ]
    notes = "select table_name, column_name, value from notes order by all"
    assert store.rows(notes) == [
        ("inspections", "form", "measuring D8 0a1b2c"),
        ("inspections", "remark", "a dent: on spline 3"),
    ]


def test_a_sheet_pasted_twice_into_one_message_counts_once(store: Store) -> None:
    report = added(store, SHEET + "\n" + SHEET)
    assert report.kept_out == 0
    assert accepted(report) == {"gauges": 1, "shafts": 1, "inspections": 1, "readings": 5}


def test_a_second_measuring_on_the_same_day_is_another_inspection(store: Store) -> None:
    added(store, SHEET)
    again = added(store, SHEET.replace("hours:", "turn: 2"))
    assert accepted(again)["inspections"] == 1
    assert accepted(again)["readings"] == 5
    # the first may say so, or not
    assert accepted(added(store, SHEET.replace("hours:", "turn: 1")))["inspections"] == 0


def test_the_same_readings_under_another_day_are_told(store: Store) -> None:
    added(store, SHEET)
    again = added(store, SHEET.replace("2026-04-01", "2026-04-02"))
    assert again.kept_out == 0
    assert again.notes == (
        "inspection S7 2026-04-02 owner 9 has the very same readings as S7 2026-04-01 owner 9 of that shaft: "
        "the same sheet, sent twice?",
    )
    other = added(store, SHEET.replace("2026-04-01", "2026-04-03").replace("1;5.98;", "1;5.97;"))
    assert other.notes == ()


def test_other_readings_under_the_same_name_are_a_conflict(store: Store) -> None:
    added(store, SHEET)
    report = added(store, SHEET.replace("1;5.98", "1;5.91"))
    assert [(file.table, file.conflict) for file in report.files if file.conflict] == [("readings", 1)]


def test_a_unit_changed_half_way_is_refused(store: Store) -> None:
    with pytest.raises(InputError, match=r"row 13, unit: 'in' where 'mm' was said above; each line once"):
        added(store, SHEET.replace("spline;", "unit: in\nspline;"))


def test_a_sheet_of_another_pattern_than_the_shaft_is_told(store: Store) -> None:
    patterns = "patterns\npattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm\nD6,6,6,6.01,26,30,28\n"
    added(store, patterns)
    report = added(store, SHEET.replace("shaft: S7", "shaft: S1").replace("pattern: D8", "pattern: D6"))
    told = [problem for file in report.files for problem in file.problems]
    assert len(told) == 1
    assert "shafts" in [file.table for file in report.files if file.conflict]
    assert "'D6' where the store, from intake 1, has 'D8'" in told[0]


def test_what_a_message_says_above_its_sheet_is_told_and_left_out(store: Store) -> None:
    report = added(store, "Hello,\nhere are the readings; sorry, late\n\n" + SHEET)
    assert report.kept_out == 0
    assert accepted(report)["readings"] == 5
    assert report.notes == (
        "pasted text: 'Hello,' stands above the sheet, so it was not read",
        "pasted text: 'here are the readings; sorry, late' stands above the sheet, so it was not read",
    )


def test_what_stands_below_a_sheet_and_has_figures_is_kept_out_with_its_reason(store: Store) -> None:
    report = added(store, SHEET + "\n3 5.98\n")
    assert [(file.accepted, file.rejected) for file in report.files if file.table == "readings"] == [(5, 1)]
    (told,) = [problem for file in report.files for problem in file.problems]
    assert "row 17: has 1 cell where there are 4 columns" in told


def test_blanks_and_marks_that_phones_put_in_do_no_harm(store: Store) -> None:
    text = (
        SHEET.replace("shaft: S7", "Shaft:\u00a0S7\u202f").replace("1;5.98;", "1 ; 5.98\u00a0;").replace("\n", "\r\n")
    )
    report = added(store, "\ufeff" + text)
    assert report.kept_out == 0
    assert store.value("select count(*) from readings where inspection = 'S7 2026-04-01 owner 9'") == 5
