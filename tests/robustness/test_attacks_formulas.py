"""No cell of any file that the program writes is run by a spreadsheet, and each comes back as it was."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from tests.report.forms.test_sheets_pages import FOLLOW_UP, MEASURING
from tests.robustness.hostile_names import FORMULAS, INSIDE, again, make_named_store
from tests.store.support.small_store import LATE, contents, make_store
from wearstats.errors import StoreError
from wearstats.report.forms.form import FollowUpForm
from wearstats.report.forms.workbooks import follow_up_book, measuring_book, note_book
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.resources import resource
from wearstats.store.archive.export import PLAIN, export_folder, export_workbook, harmless, harmless_text
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.load_table import _cleaned_sql
from wearstats.store.kept_out.files import _as_typed, export_rejects
from wearstats.store.parsing.cells import cleaned
from wearstats.studies.forms import SheetFitting, sheet_names
from wearstats.studies.snapshot import Snapshot

RUN = re.compile(r"^[=+\-@\t\r]|[;\t\r\n][=+\-@]")
"""Where a spreadsheet may begin to run a text, whatever it takes for the end of a cell."""
# two that begin with a sign that blanks would be taken off for
HELD = (*FORMULAS, *INSIDE, "\t=1", "'a'=b")
STARTS = (*HELD, "\r=1")
"""No workbook holds a return as it is."""


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_named_store(tmp_path_factory.mktemp("formulas") / "named.duckdb", STARTS)


def _cells(file: Path) -> list[str]:
    with file.open(encoding="utf-8", newline="") as opened:
        return [cell for row in csv.reader(opened) for cell in row]


def _formulas(book: bytes) -> list[object]:
    opened = load_workbook(io.BytesIO(book))
    cells = [cell for sheet in opened for row in sheet.iter_rows() for cell in row]
    return [c.value for c in cells if c.data_type == "f" or (isinstance(c.value, str) and RUN.search(c.value))]


# signs that mean something to spreadsheets or to the writing of cells, and a letter and a digit that do not
ODD = st.text(alphabet="';=+-@\t\r\n1a ", max_size=9).map(str.strip).filter(bool)


@given(st.lists(ODD, max_size=200))
def test_odd_texts_are_run_nowhere_and_come_back(texts: list[str]) -> None:
    read = "select unnest($texts::varchar[]) as item"
    sql = f"select {harmless('item')} as written, {_cleaned_sql(harmless('item'))} as back from ({read})"
    for text, (written, back) in zip(texts, duckdb.execute(sql, {"texts": texts}).fetchall(), strict=True):
        assert written == harmless_text(text)
        assert cleaned(written) == back == text
        # a row kept out is written as it was typed: what it meant it means again
        typed = _as_typed(text)
        assert cleaned(typed) == cleaned(text)
        for cell in (written, typed):
            assert not RUN.search(cell) or re.fullmatch(PLAIN, cell)


def test_notes_beside_readings_and_names_after_a_tab_come_back(named: Path, tmp_path: Path) -> None:
    with open_store(named) as store:
        export_folder(store, tmp_path / "out")
        before = contents(store)
        said = {value for (value,) in store.rows("select value from notes where table_name = 'readings'")}
    assert set(STARTS) <= said
    files = sorted((tmp_path / "out").iterdir())
    assert not [cell for file in files for cell in _cells(file) if RUN.search(cell)]
    with open_store(again(tmp_path / "again.duckdb", files)) as store:
        assert contents(store) == before


def test_forms_hold_no_formula_and_give_the_name_back(named: Path, tmp_path: Path) -> None:
    store = Path(shutil.copy(named, tmp_path))
    with open_store(store, write=True) as opened:
        assert not _formulas(note_book(sheet_names(Snapshot(store=opened, known_on=LATE)), MEASURING.wording))
        for name in HELD:
            assert not _formulas(measuring_book(replace(MEASURING, shaft=name)))
        asked = tuple(SheetFitting(fitting=name, shaft=name, hub=name, fitted_on=None) for name in HELD)
        written = follow_up_book(FollowUpForm(fittings=asked, wording=FOLLOW_UP.wording))
        assert not _formulas(written)
        book = load_workbook(io.BytesIO(written))
        for row in range(2, len(HELD) + 2):
            book["follow_ups"].cell(row, 2, "2026-05-01")
            book["follow_ups"].cell(row, 3, "tight")
        book.save(tmp_path / "back.xlsx")
        report = add_files(opened, [tmp_path / "back.xlsx"], added_on=LATE)
        assert report.kept_out == 0
        answered = {name for (name,) in opened.rows("select fitting from follow_ups where seen_on = '2026-05-01'")}
    assert answered == set(HELD)


def test_a_workbook_that_would_change_a_return_is_refused(named: Path, tmp_path: Path) -> None:
    with open_store(named) as store, pytest.raises(StoreError, match="no workbook can hold; export CSV instead"):
        export_workbook(store, tmp_path / "out.xlsx")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_rows_for_the_office_hold_no_formula_in_cells_or_headings(ending: str, tmp_path: Path) -> None:
    rows = pd.DataFrame({name: [name, "N\0ul \x1b", None] for name in FORMULAS})
    file = write_rows(rows, tmp_path / f"rows{ending}", sheet="rows")
    assert not (_formulas(file.read_bytes()) if ending == ".xlsx" else [c for c in _cells(file) if RUN.search(c)])


def test_rows_kept_out_are_written_without_formulas(tmp_path: Path) -> None:
    path = make_store(tmp_path / "bench.duckdb")
    file = tmp_path / "hubs.csv"
    with file.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows(
            [["hub", "pattern", "undersize_um", "=1+1"], *([f"'{name}", "D8", "=x", "=y"] for name in FORMULAS)]
        )
    with open_store(path, write=True) as store:
        assert add_files(store, [file], added_on=LATE).kept_out == len(FORMULAS)
        (written,) = export_rejects(store, tmp_path / "rejects")
        assert not [cell for cell in _cells(written) if RUN.search(cell)]
        written.write_text(written.read_text(encoding="utf-8").replace("'=x", "50"), encoding="utf-8")
        mended = add_files(store, [written], added_on=LATE)
        assert (mended.kept_out, mended.settled) == (0, len(FORMULAS))
        assert {name for (name,) in store.rows("select hub from hubs")} >= set(FORMULAS)


@pytest.mark.skipif(shutil.which("node") is None, reason="no JavaScript engine outside a browser here")
def test_the_offline_page_s_cells_are_harmless_too() -> None:
    script = resource("reports/templates/sheets/script/save.js").read_text(encoding="utf-8")
    named = tuple(f"const {name} =" for name in ("inside", "safe", "cell"))
    made = "\n".join(line for line in script.splitlines() if line.startswith(named))
    run = f"{made}\nconsole.log(JSON.stringify({json.dumps(HELD)}.map(cell)))"
    ran = subprocess.run(["node", "-e", run], capture_output=True, text=True, timeout=60, check=True)
    cells = [next(csv.reader(io.StringIO(cell), delimiter=";"))[0] for cell in json.loads(ran.stdout)]
    assert cells == [harmless_text(name) for name in HELD]
