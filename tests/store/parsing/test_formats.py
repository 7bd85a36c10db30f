"""The same rows in every form in which they may arrive, and what stands around them."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

from tests.store.support.small_store import LATE, LOADED_ON, contents, make_store, small_rows
from wearstats.errors import InputError, StoreError
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files, add_frames
from wearstats.store.intake.reports import IntakeReport

FITTINGS = [
    ["fitting", "shaft", "hub", "fitted_on", "method", "inspections", "play_um", "seated"],
    ["F8", "S1", "H1", "2026-04", "owner-fitted", "I1;I2", "12.5", "yes"],
    ["F9", "Süd 1", "H2", "2026-05-02", "as-supplied", "", "0.75", "no"],
]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(make_store(tmp_path / "bench.duckdb"), write=True)


def _lines(delimiter: str, *, comma: bool = False, newline: str = "\n") -> str:
    rows = [FITTINGS[0]] + [[cell.replace(".", ",") if comma else cell for cell in row] for row in FITTINGS[1:]]
    # a list of inspections holds the delimiter of some of the files
    quoted = [[f'"{cell}"' if delimiter in cell else cell for cell in row] for row in rows]
    return newline.join(delimiter.join(row) for row in quoted) + newline


def _workbook(path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "fittings"
    sheet.append(FITTINGS[0])
    sheet.append(["F8", "S1", "H1", "2026-04", "owner-fitted", "I1;I2", 12.5, True])
    sheet.append(["F9", "Süd 1", "H2", datetime.datetime(2026, 5, 2), "as-supplied", None, 0.75, False])
    sheet.append([None] * 8)
    book.create_sheet("read me").append(["how to fill in this form"])
    book.save(path)


def _parquet(path: Path) -> None:
    import duckdb

    with duckdb.connect() as connection:
        connection.execute(
            "copy (select 'F8' as fitting, 'S1' as shaft, 'H1' as hub, '2026-04' as fitted_on, "
            "'owner-fitted' as method, ['I1', 'I2'] as inspections, 12.5::double as play_um, true as seated "
            "union all select 'F9', 'Süd 1', 'H2', '2026-05-02', 'as-supplied', null, 0.75, false) "
            f"to '{path}' (format parquet)"
        )


FORMS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "comma": ("fittings.csv", lambda path: path.write_text(_lines(","), encoding="utf-8")),
    "semicolon": ("fittings.csv", lambda path: path.write_text(_lines(";"), encoding="utf-8")),
    "tab": ("fittings.tsv", lambda path: path.write_text(_lines("\t"), encoding="utf-8")),
    "decimal comma": ("fittings.csv", lambda path: path.write_text(_lines(";", comma=True), encoding="utf-8")),
    "byte order mark": ("fittings.csv", lambda path: path.write_text(_lines(","), encoding="utf-8-sig")),
    "Windows-1252": ("fittings.csv", lambda path: path.write_text(_lines(";"), encoding="cp1252")),
    "UTF-16": ("fittings.txt", lambda path: path.write_text(_lines("\t"), encoding="utf-16")),
    "Windows line ends": ("Fittings 2026-05.csv", lambda path: path.write_bytes(_lines(",", newline="\r\n").encode())),
    "old line ends": ("fittings.csv", lambda path: path.write_bytes(_lines(",", newline="\r").encode())),
    "blank lines and cells": (
        "fittings.csv",
        lambda path: path.write_text("\n" + _lines(",").replace("\n", ",,\n\n") + ",,,\n", encoding="utf-8"),
    ),
    "workbook": ("fittings.xlsx", _workbook),
    "Parquet": ("fittings.parquet", _parquet),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_brings_the_same_rows(form: str, store: Store, tmp_path: Path) -> None:
    name, write = FORMS[form]
    write(tmp_path / name)
    with store:
        report = add_files(store, [tmp_path / name], added_on=LOADED_ON)
        assert [(file.read, file.accepted) for file in report.files] == [(2, 2)], report.to_dict()
        day, next_day, last_day = datetime.date(2026, 4, 1), datetime.date(2026, 5, 2), datetime.date(2026, 4, 30)
        assert store.rows(
            "select fitting, shaft, hub, fitted_on, fitted_from, fitted_to, method, inspections, play_um, seated "
            "from fittings where fitting in ('F8', 'F9') order by fitting"
        ) == [
            ("F8", "S1", "H1", "2026-04", day, last_day, "owner-fitted", ["I1", "I2"], 12.5, True),
            ("F9", "Süd 1", "H2", "2026-05-02", next_day, next_day, "as-supplied", None, 0.75, False),
        ]


def test_a_workbook_of_all_tables_is_loaded_in_the_right_order(tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book.worksheets[0])
    for table, rows in reversed(small_rows().items()):
        sheet = book.create_sheet(table)
        names = list(dict.fromkeys(name for row in rows for name in row))
        sheet.append(names)
        for row in rows:
            sheet.append([row.get(name) for name in names])
    book.create_sheet("drop-down lists").append(["mm", "in"])
    book.save(tmp_path / "owner.xlsx")
    expected = make_store(tmp_path / "expected.duckdb")
    create_store(tmp_path / "bench.duckdb")
    with open_store(tmp_path / "bench.duckdb", write=True) as store, open_store(expected) as other:
        report = add_files(store, [tmp_path / "owner.xlsx"], added_on=LATE)
        assert report.kept_out == 0
        assert report.files[0].file == "owner.xlsx, sheet patterns"
        assert report.notes == ("owner.xlsx, sheet drop-down lists: names no table, so it was not read",)
        assert contents(store) == contents(other)


def test_a_formula_saved_without_its_value_is_refused(store: Store, tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "hubs"
    sheet.append(["hub", "pattern", "undersize_um"])
    sheet.append(["H9", "D8", "=25+25"])
    book.save(tmp_path / "hubs.xlsx")
    with (
        store,
        pytest.raises(InputError, match=r"sheet hubs, row 2: the formula '=25\+25' was saved without its value"),
    ):
        add_files(store, [tmp_path / "hubs.xlsx"], added_on=LOADED_ON)


PAPER = """inspection,spline,shoulder,middle,nut-end
I3,1,5.981,5.975,5.980
I3,2,5.979,,5.978
I3,3,,5.970,
"""
LONG = """inspection,spline,station,width
I3,1,shoulder,5.981
I3,1,middle,5.975
I3,1,nut-end,5.980
I3,2,shoulder,5.979
I3,2,nut-end,5.978
I3,3,middle,5.970
"""
PASTED = """inspections
inspection;shaft;measured_on;measured_by;measured_at;gauge;unit
I3;S1;2026-04-01;owner-1;home;G1;mm

readings
inspection: I3
spline;shoulder;middle;nut-end
1;5,981;5,975;5,980
2;5,979;;5,978
3;;5,970;
"""
CARRIED = """shaft,pattern,inspection,measured_on,measured_by,measured_at,gauge,unit,spline,Shoulder,Middle,Nut end
S1,D8,I3,2026-04-01,owner-1,home,G1,mm,1,5.981,5.975,5.980
S1,D8,I3,2026-04-01,owner-1,home,G1,mm,2,5.979,,5.978
S1,D8,I3,2026-04-01,owner-1,home,G1,mm,3,,5.970,
"""
INSPECTION = "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit\nI3,S1,2026-04-01,owner-1,home,G1,mm\n"


@pytest.mark.parametrize("shape", ["long", "paper", "pasted", "carried"])
def test_every_shape_brings_the_same_readings(shape: str, store: Store, tmp_path: Path) -> None:
    with store:
        if shape == "pasted":
            report = add_files(store, [], text=PASTED, added_on=LOADED_ON)
        else:
            (tmp_path / "readings.csv").write_text({"long": LONG, "paper": PAPER, "carried": CARRIED}[shape])
            (tmp_path / "inspections.csv").write_text(INSPECTION)
            paths = [tmp_path / "readings.csv"] + [tmp_path / "inspections.csv"] * (shape != "carried")
            report = add_files(store, paths, added_on=LOADED_ON)
        by_table = {file.table: file for file in report.files}
        assert (by_table["readings"].read, by_table["readings"].accepted) == (6, 6), report.to_dict()
        assert by_table["inspections"].accepted == 1
        assert store.rows(
            "select spline, station, width_tenth_um from readings where inspection = 'I3' order by all"
        ) == [
            (1, "middle", 59750),
            (1, "nut-end", 59800),
            (1, "shoulder", 59810),
            (2, "nut-end", 59780),
            (2, "shoulder", 59790),
            (3, "middle", 59700),
        ]
        assert store.rows("select * from notes") == []


def test_a_misspelt_station_on_paper_is_not_kept_as_a_note(store: Store) -> None:
    text = PASTED.replace("middle;nut-end", "midle;nut-end")
    with store:
        with pytest.raises(InputError) as refused:
            add_files(store, [], text=text, added_on=LOADED_ON)
        assert [str(problem) for problem in refused.value.problems] == [
            "pasted text, readings, midle: holds numbers like readings, but 'midle' is no station; "
            "shoulder, middle, nut-end; did you mean middle?"
        ]
        assert store.value("select count(*) from inspections where inspection = 'I3'") == 0


def test_readings_under_an_unknown_name_are_refused_by_their_size(store: Store) -> None:
    text = PASTED.replace("middle;nut-end", "quarter;nut-end")
    with store, pytest.raises(InputError, match=r"'quarter' is no station.*correct its name, or take the column out"):
        add_files(store, [], text=text, added_on=LOADED_ON)


def test_a_column_of_other_numbers_on_paper_is_a_remark(store: Store) -> None:
    text = PASTED.replace("nut-end\n", "nut-end;remark_no\n").replace("5,980\n", "5,980;17\n")
    text = text.replace("5,978\n", "5,978;\n").replace("5,970;\n", "5,970;;\n")
    with store:
        report = add_files(store, [], text=text, added_on=LATE)
        assert (report.files[-1].read, report.files[-1].accepted) == (6, 6)
        assert report.notes == (
            "pasted text, readings, remark_no: is no station, so its numbers were kept as remarks, not as readings",
        )
        assert store.rows("select distinct column_name, value from notes") == [("remark_no", "17")]


def test_a_table_named_by_the_first_line_of_a_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "from the post.txt").write_text("hubs\nhub,pattern,undersize_um\nH9,D8,75\n")
    with store:
        report = add_files(store, [tmp_path / "from the post.txt"], added_on=LOADED_ON)
        assert [(file.table, file.accepted) for file in report.files] == [("hubs", 1)]


def test_columns_that_no_table_has_are_kept_as_notes(store: Store, tmp_path: Path) -> None:
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um,Shelf,order\nH9,D8,75,top left,O3\nH8,D8,75,,\n")
    with store:
        add_files(store, [tmp_path / "hubs.csv"], added_on=LOADED_ON)
        assert store.rows("select table_name, key_json, column_name, value, intake from notes order by all") == [
            ("hubs", '["H9"]', "Shelf", "top left", 2),
            ("hubs", '["H9"]', "order", "O3", 2),
        ]


def test_an_unknown_shaft_is_made_from_the_row_that_names_it(store: Store, tmp_path: Path) -> None:
    head = "inspection,shaft,pattern,region,measured_on,measured_by,measured_at,gauge,kind,unit,resolution\n"
    (tmp_path / "inspections.csv").write_text(
        head
        + "I7,S7,D8,saltings,2026-04-01,owner-7,home,G7,caliper,mm,0.01\n"
        + "I8,S7,D8,saltings,2026-05-01,owner-7,home,G7,caliper,mm,0.01\n"
    )
    with store:
        report = add_files(store, [tmp_path / "inspections.csv"], added_on=LOADED_ON)
        assert [(file.table, file.read, file.accepted) for file in report.files] == [
            ("gauges", 1, 1),
            ("shafts", 1, 1),
            ("inspections", 2, 2),
        ]
        assert store.rows("select pattern, region from shafts where shaft = 'S7'") == [("D8", "saltings")]
        assert store.rows("select kind, resolution_um from gauges where gauge = 'G7'") == [("caliper", 10.0)]
        assert store.rows("select * from notes") == []


def test_frames_of_numbers_dates_and_lists_are_taken(store: Store) -> None:
    frame = pd.DataFrame(
        {
            "fitting": ["F8", "F9"],
            "shaft": ["S1", "S1"],
            "hub": ["H1", "H2"],
            "fitted_on": [datetime.date(2026, 5, 1), None],
            "method": ["owner-fitted", "as-supplied"],
            "inspections": [["I1", "I2"], []],
            "play_um": [12.5, float("nan")],
            "seated": [True, False],
            "drive_marked": [7, 8],
        }
    )
    inspections = pd.DataFrame(
        {
            "inspection": ["I9"],
            "shaft": ["S1"],
            "measured_on": pd.to_datetime(["2026-05-01"]),
            "measured_by": ["owner-1"],
            "measured_at": ["home"],
            "gauge": ["G1"],
            "unit": ["mm"],
        }
    )
    with store:
        report: IntakeReport = add_frames(store, {"fittings": frame, "inspections": inspections}, added_on=LOADED_ON)
        assert report.kept_out == 0, report.to_dict()
        assert store.rows(
            "select fitted_from, inspections, play_um, seated, drive_marked from fittings where fitting in ('F8', 'F9')"
        ) == [
            (datetime.date(2026, 5, 1), ["I1", "I2"], 12.5, True, 7),
            (None, None, None, False, 8),
        ]


def test_a_store_open_for_reading_takes_nothing(tmp_path: Path) -> None:

    with (
        open_store(make_store(tmp_path / "bench.duckdb")) as store,
        pytest.raises(StoreError, match="for reading only"),
    ):
        add_files(store, [], text="hubs\nhub,pattern,undersize_um\nH9,D8,75\n", added_on=LOADED_ON)
