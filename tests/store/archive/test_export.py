"""What is written out and added to a new store gives the same tables, and no cell is run as a formula."""

from __future__ import annotations

import csv
import datetime
import shutil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.store.support.small_store import LATE, LOADED_ON, Rows, add, contents, inspection, make_store, readings_of
from wearstats.errors import StoreError
from wearstats.resources import resource
from wearstats.store.archive import export
from wearstats.store.archive.export import ExportReport, export_folder, export_workbook
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=cmd|' /C calc'!A0", "'=1", "''=1", "-")
HARMLESS = (
    "'quoted",
    "a=b",
    "-5.2",
    "+7",
    "semi;colon, comma",
    'said "tight"',
    "two\nlines",
    "über 5 µm",
    "#1",
    "0012",
)


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a store with texts that spreadsheets take for something else, inches, and columns that no table has."""
    path = make_store(tmp_path_factory.mktemp("odd") / "odd.duckdb")
    texts = [*FORMULAS, *HARMLESS]
    rows: Rows = {
        "gauges": [
            {"gauge": "'=G", "kind": "caliper", "unit": "thou", "resolution": "0.1", "serial": "-A12", "'=drawer": "3"}
        ],
        "shafts": [
            # what a leading apostrophe of the file protects goes without it into the store
            {
                "shaft": f"S-{number}",
                "pattern": "D8",
                "engine": f"'{text}" if text in FORMULAS else text,
                "colour": "=red",
            }
            for number, text in enumerate(texts)
        ]
        + [{"shaft": "'=S", "pattern": "D8"}],
        "inspections": [
            inspection(
                "'=I", shaft="'=S", gauge="'=G", unit="thou", register="1181.1", major="1417.30", hours="0.0000012"
            ),
            inspection("I-9", unit="in", register="1.18110", check_piece="6.0005", check_reading="0.23624"),
        ],
        "readings": readings_of("'=I", ["235.4", "235.40", "236.0", "234.9"])
        + readings_of("I-9", ["0.2354", "+0.23540", ".2350", "0.235"]),
        "fittings": [{"fitting": "F-1", "shaft": "'=S", "hub": "H1", "fitted_on": "2026-04", "method": "owner-fitted"}],
        "costs": [
            {"pattern": "D8", "item": "postage", "from_on": "2026-01-01", "amount": "0.00001", "currency": "EUR"}
        ],
        "undersizes_offered": [{"pattern": "D8", "undersize_um": "-12.5", "from_on": "2026-01-01"}],
    }
    with open_store(path, write=True) as store:
        add(store, rows)
    return path


@pytest.fixture
def path(odd: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(odd, tmp_path))


def _cells(folder: Path) -> list[str]:
    found: list[str] = []
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as opened:
            found += [cell for row in csv.reader(opened) for cell in row]
    return found


def _added_again(tmp_path: Path, files: list[Path]) -> Path:
    again = tmp_path / "again.duckdb"
    create_store(again)
    with open_store(again, write=True) as store:
        report = add_files(store, files, added_on=LOADED_ON)
    assert report.kept_out == 0, report.to_dict()
    # what looks wrong in the rows is told as when they first came in
    assert [note for note in report.notes if not note.startswith("kept, but") and "store check lists" not in note] == []
    return again


def test_a_folder_added_to_a_new_store_gives_the_same_tables(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        report = export_folder(store, tmp_path / "out")
        before = contents(store)
    files = sorted((tmp_path / "out").iterdir())
    assert {file.stem for file in files} == set(report.rows) == {name for name in before if before[name]} - {
        "notes", "inspection_moments", "reading_counts",
    }  # fmt: skip
    assert {name: len(before[name]) for name in report.rows} == report.rows
    with open_store(_added_again(tmp_path, files)) as store:
        assert contents(store) == before


def test_a_workbook_added_to_a_new_store_gives_the_same_tables(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        report = export_workbook(store, tmp_path / "out")
        before = contents(store)
    assert report.to == tmp_path / "out.xlsx"
    with open_store(_added_again(tmp_path, [report.to])) as store:
        assert contents(store) == before


def test_the_formula_texts_are_in_the_store_as_meant(path: Path) -> None:
    with open_store(path) as store:
        engines = {engine for (engine,) in store.rows("select engine from shafts where engine is not null")}
    assert {*FORMULAS, *HARMLESS} <= engines


def test_no_cell_is_a_formula(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        export_folder(store, tmp_path / "out")
        export_workbook(store, tmp_path / "out.xlsx")
    cells = _cells(tmp_path / "out")
    starting = {cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))}
    # what is left are numbers
    assert starting == {"-5.2", "+7", "-12.5", "+0.23540"}
    assert {f"'{text}" for text in FORMULAS} <= set(cells)
    book = load_workbook(tmp_path / "out.xlsx")
    assert not [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    offered = [row[1].value for row in book["undersizes_offered"].iter_rows(min_row=2)]
    assert offered == [-12.5]


def test_widths_stand_as_typed_in_the_unit_of_their_inspection(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        export_folder(store, tmp_path / "out")
    with (tmp_path / "out" / "readings.csv").open(encoding="utf-8", newline="") as opened:
        rows = [row for row in csv.DictReader(opened) if row["inspection"] == "I-9"]
    assert [row["width"] for row in rows] == ["0.2354", "+0.23540", ".2350", "0.235"]
    assert list(rows[0]) == ["inspection", "spline", "station", "trial", "width"]


def test_a_decimal_comma_is_written_as_a_point_and_means_the_same(tmp_path: Path) -> None:
    """``5,981`` alone has two meanings, so a file of such widths could not be read again."""
    path = make_store(tmp_path / "comma.duckdb")
    text = "inspection;spline;station;width\nI1;1;shoulder;5,98\nI1;2;shoulder;5,981\n"
    with open_store(path, write=True) as store:
        assert add_files(store, [], text=text, table="readings", added_on=LOADED_ON).kept_out == 0
        export_folder(store, tmp_path / "out")
        before = store.rows("select * exclude (typed, intake) from readings order by all")
        assert store.value("select count(*) from readings where typed = '5,981'") == 1
    with open_store(_added_again(tmp_path, sorted((tmp_path / "out").iterdir()))) as store:
        assert store.rows("select * exclude (typed, intake) from readings order by all") == before


def test_columns_that_no_table_has_come_along(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        export_folder(store, tmp_path / "out")
    header = (tmp_path / "out" / "gauges.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == "gauge,kind,unit,resolution,checked_on,'=drawer,serial"


def test_a_table_longer_than_a_sheet_goes_on_in_a_further_one(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(export, "SHEET_ROWS", 10)
    with open_store(path) as store:
        report = export_workbook(store, tmp_path / "out.xlsx")
        before = contents(store)
    sheets = load_workbook(report.to, read_only=True).sheetnames
    assert [name for name in sheets if name.startswith("readings")] == ["readings", "readings 2", "readings 3"]
    with open_store(_added_again(tmp_path, [report.to])) as store:
        assert contents(store) == before


def test_nothing_is_overwritten_unless_said(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "costs.csv").write_text("mine", encoding="utf-8")
    (out / "stock_counts.csv").write_text("of an earlier export", encoding="utf-8")
    (out / "letters.txt").write_text("not to be lost", encoding="utf-8")
    with open_store(path) as store:
        with pytest.raises(StoreError, match=r"out: holds stock_counts\.csv, costs\.csv already; .*--force"):
            export_folder(store, out)
        assert (out / "costs.csv").read_text(encoding="utf-8") == "mine"
        export_folder(store, out, force=True)
        # the store has no counts, so a file of them would be wrong
        assert not (out / "stock_counts.csv").exists()
        assert (out / "letters.txt").read_text(encoding="utf-8") == "not to be lost"
        with pytest.raises(StoreError, match="is a file; name a folder, or say --xlsx"):
            export_folder(store, out / "costs.csv", force=True)
        book = export_workbook(store, out).to
        with pytest.raises(StoreError, match=r"out\.xlsx: is there already; .*--force"):
            export_workbook(store, book)
        export_workbook(store, book, force=True)
        with pytest.raises(StoreError, match=r"cannot be written"):
            export_workbook(store, tmp_path / "none" / "book.xlsx")
    assert not list(tmp_path.rglob(".*"))


def test_signs_that_no_workbook_can_hold_are_told(path: Path, tmp_path: Path) -> None:
    with open_store(path, write=True) as store:
        store.execute("update shafts set engine = chr(7) where shaft = 'S1'")
    with open_store(path) as store:
        with pytest.raises(StoreError, match="shafts: has a text with signs that no workbook can hold; export CSV"):
            export_workbook(store, tmp_path / "out.xlsx")
        export_folder(store, tmp_path / "out")
    assert not list(tmp_path.glob("*.xlsx"))
    assert not list(tmp_path.rglob(".*"))


def test_reading_stays_reading_after_an_export(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        export_folder(store, tmp_path / "out")
        assert store.value("select current_setting('enable_external_access')") is False
        assert not store.write


def test_an_empty_store_gives_no_files(tmp_path: Path) -> None:
    create_store(tmp_path / "empty.duckdb")
    with open_store(tmp_path / "empty.duckdb") as store:
        assert export_folder(store, tmp_path / "out") == ExportReport(to=tmp_path / "out", rows={})
        assert export_workbook(store, tmp_path / "out.xlsx").rows == {}
    assert list((tmp_path / "out").iterdir()) == []


def test_the_demo_comes_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "demo.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        add_files(store, sorted(resource("data/demo").glob("*.csv")), added_on=LOADED_ON)
        before = contents(store)
    with open_store(path) as store:
        export_folder(store, tmp_path / "out")
    with open_store(_added_again(tmp_path, sorted((tmp_path / "out").iterdir()))) as store:
        assert contents(store) == before


def test_how_far_outcomes_are_complete_is_told_for_no_file_holds_it(tmp_path: Path) -> None:
    stated = datetime.date(2026, 1, 31)
    with open_store(make_store(tmp_path / "small.duckdb"), write=True) as store:
        add_files(store, [], added_on=LATE, complete_to=stated)
        assert export_folder(store, tmp_path / "out").complete_to == stated
