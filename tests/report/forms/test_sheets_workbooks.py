"""The workbooks come back: filled in by hand they go into a store, twice is a duplicate, blanks say nothing."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from tests.store.support.small_store import LATE, make_store
from wearstats.report.forms.form import MEASURING_LINES, FollowUpForm, MeasuringForm
from wearstats.report.forms.wording import read_wording
from wearstats.report.forms.workbooks import follow_up_book, measuring_book, note_book
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.parsing.incoming import OWN_SHEETS
from wearstats.studies.forms import sheet_fittings, sheet_names, sheet_pattern
from wearstats.studies.snapshot import Snapshot

SAID = {
    "shaft": "S7",
    "measured_on": "2026-04-01",
    "measured_by": "owner 9",
    "kind": "micrometer-flat",
    "unit": "mm",
    "resolution": "0.01",
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def form(store: Store) -> MeasuringForm:
    return MeasuringForm(
        pattern=sheet_pattern(Snapshot(store=store, known_on=LATE, pattern="D8")), wording=read_wording("en")
    )


def opened(written: bytes) -> Workbook:
    return load_workbook(io.BytesIO(written))


def filled(form: MeasuringForm, said: dict[str, str], readings: dict[tuple[int, int], str]) -> Workbook:
    book = opened(measuring_book(form))
    sheet = book["readings"]
    for name, text in said.items():
        sheet.cell(MEASURING_LINES.index(name) + 1, 2, text)
    for (spline, at), text in readings.items():
        sheet.cell(len(MEASURING_LINES) + 2 + spline, 2 + at, text)
    return book


def added(store: Store, book: Workbook, path: Path) -> IntakeReport:
    book.save(path)
    return add_files(store, [path], added_on=LATE)


def outcome(report: IntakeReport) -> dict[str, tuple[int, int, int, int]]:
    return {file.table: (file.accepted, file.duplicate, file.conflict, file.rejected) for file in report.files}


def test_a_filled_measuring_book_makes_its_shaft_gauge_and_inspection(store: Store, tmp_path: Path) -> None:
    book = filled(form(store), SAID, {(1, 0): "5,98", (1, 2): "5,90", (8, 1): "5,97"})
    report = added(store, book, tmp_path / "from the post.xlsx")
    expected = {"gauges": (1, 0, 0, 0), "shafts": (1, 0, 0, 0), "inspections": (1, 0, 0, 0), "readings": (3, 0, 0, 0)}
    assert outcome(report) == expected
    assert store.rows("select shaft, measured_by, measured_at, gauge, unit from inspections where shaft = 'S7'") == [
        ("S7", "owner 9", "home", "owner 9 micrometer-flat 0.01 mm", "mm")
    ]
    widths = "select inspection, spline, station, width_tenth_um from readings where inspection like 'S7%' order by all"
    assert store.rows(widths) == [
        ("S7 2026-04-01 owner 9", 1, "nut-end", 59000),
        ("S7 2026-04-01 owner 9", 1, "shoulder", 59800),
        ("S7 2026-04-01 owner 9", 8, "middle", 59700),
    ]
    # the form's own name is kept once, beside the inspection, not beside each reading
    assert store.rows("select table_name, key_json, column_name, value from notes") == [
        ("inspections", '["S7 2026-04-01 owner 9"]', "form", form(store).form)
    ]


@pytest.mark.parametrize(
    ("typed", "kept"), [(None, None), ("sound", ["sound"]), ("Bruised, cracked", ["bruised", "cracked"])]
)
def test_what_was_seen_and_felt_comes_in(
    store: Store, tmp_path: Path, typed: str | None, kept: list[str] | None
) -> None:
    said = SAID if typed is None else SAID | {"condition": typed}
    added(store, filled(form(store), said, {(1, 0): "5.98"}), tmp_path / "book.xlsx")
    assert store.rows("select condition from inspections where shaft = 'S7'") == [(kept,)]


def test_a_word_that_is_not_known_is_told_with_those_that_are(store: Store, tmp_path: Path) -> None:
    book = filled(form(store), SAID | {"condition": "scratched"}, {(1, 0): "5.98"})
    problems = [problem for file in added(store, book, tmp_path / "book.xlsx").files for problem in file.problems]
    assert any("sound, bruised, chipped, cracked, twisted" in problem for problem in problems)


def test_the_book_shows_beside_a_crack_that_it_is_not_run(store: Store) -> None:
    sheet = opened(measuring_book(form(store)))["readings"]
    cell = f"B{MEASURING_LINES.index('condition') + 1}"
    (rule,) = [rule for at in sheet.conditional_formatting if str(at.sqref) == cell for rule in at.rules]
    assert rule.formula == [f'ISNUMBER(SEARCH("crack",{cell}))']
    assert "do not run it" in rule.dxf.numFmt.formatCode
    assert sheet[cell].value is None


def test_the_same_book_twice_is_recognised(store: Store, tmp_path: Path) -> None:
    book = filled(form(store), SAID, {(1, 0): "5.98", (2, 0): "5.97"})
    added(store, book, tmp_path / "once.xlsx")
    again = added(store, book, tmp_path / "twice.xlsx")
    assert all(counts[0] == counts[2] == counts[3] == 0 for counts in outcome(again).values())
    assert outcome(again)["readings"] == (0, 2, 0, 0)


def test_one_book_used_for_two_shafts_or_days_never_mixes_them(store: Store, tmp_path: Path) -> None:
    added(store, filled(form(store), SAID, {(1, 0): "5.98"}), tmp_path / "a.xlsx")
    for changed in ({"shaft": "S8"}, {"measured_on": "2026-04-02"}, {"turn": "2"}):
        report = added(store, filled(form(store), SAID | changed, {(1, 0): "5.91"}), tmp_path / "b.xlsx")
        assert outcome(report)["inspections"] == (1, 0, 0, 0)
        assert outcome(report)["readings"] == (1, 0, 0, 0)


def test_a_needed_line_left_blank_is_told_and_nothing_is_lost(store: Store, tmp_path: Path) -> None:
    said = {name: text for name, text in SAID.items() if name != "measured_by"}
    report = added(store, filled(form(store), said, {(1, 0): "5.98"}), tmp_path / "a.xlsx")
    assert outcome(report)["inspections"] == (0, 0, 0, 1)
    assert outcome(report)["readings"] == (0, 0, 0, 1)
    told = " ".join(problem for file in report.files for problem in file.problems)
    assert "measured_by: nothing is written" in told


def test_a_follow_up_book_comes_back(store: Store, tmp_path: Path) -> None:
    asked = FollowUpForm(
        fittings=sheet_fittings(Snapshot(store=store, known_on=LATE), ["F2", "F2", "F1"]), wording=read_wording("en")
    )
    assert [item.fitting for item in asked.fittings] == ["F2", "F1"]
    book = opened(follow_up_book(asked))
    sheet = book["follow_ups"]
    sheet["B2"], sheet["C2"], sheet["E2"], sheet["G2"] = "2026-07-01", "tight", "rocked-by-hand", "2100"
    report = added(store, book, tmp_path / "follow.xlsx")
    # the hub not answered for is told, not lost
    assert outcome(report) == {"follow_ups": (1, 0, 0, 1)}
    rows = store.rows("select state, prompted, how, hours from follow_ups where fitting = 'F2'")
    assert rows == [("tight", "asked", "rocked-by-hand", 2100.0)]


def test_the_notebook_takes_news_sheet_by_sheet_and_may_be_added_again(store: Store, tmp_path: Path) -> None:
    book = opened(note_book(sheet_names(Snapshot(store=store, known_on=LATE)), read_wording("en")))
    assert {"patterns", "readings", "follow_ups", "costs"} <= set(book.sheetnames)
    heads = [cell.value for cell in book["readings"][1]]
    assert heads == ["inspection", "spline", "shoulder", "middle", "nut-end"]
    for at, text in enumerate(["F2", "2026-08-01", "tight", "unasked"], start=1):
        book["follow_ups"].cell(2, at, text)
    for at, width in enumerate(["I2", "3", "5.975", None, "5.98"], start=1):
        book["readings"].cell(2, at, width)
    first = added(store, book, tmp_path / "notebook.xlsx")
    assert outcome(first) == {"readings": (2, 0, 0, 0), "follow_ups": (1, 0, 0, 0)}
    again = added(store, book, tmp_path / "notebook.xlsx")
    assert outcome(again) == {"readings": (0, 2, 0, 0), "follow_ups": (0, 1, 0, 0)}


def test_drop_downs_offer_the_words_and_names_that_the_store_takes(store: Store) -> None:
    book = opened(note_book(sheet_names(Snapshot(store=store, known_on=LATE)), read_wording("en")))
    rules = {str(rule.sqref): rule.formula1 for rule in book["follow_ups"].data_validations.dataValidation}
    assert rules["C2:C301"] == '"tight,loose,broken,removed,no-answer"'
    assert rules["A2:A301"].startswith("'words to choose from'!$")
    assert [cell.value for cell in book["words to choose from"]["A"]] == ["fittings", "F1", "F2"]


def test_the_same_form_is_the_same_file(store: Store) -> None:
    assert (
        opened(measuring_book(form(store))).properties.created == opened(measuring_book(form(store))).properties.created
    )


def test_sheets_that_hold_no_rows_are_known_to_intake() -> None:
    words = read_wording("en")["workbook"]
    assert {words["how_sheet"], words["list_sheet"]} == OWN_SHEETS
