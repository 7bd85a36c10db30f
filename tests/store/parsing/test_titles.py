"""Files as offices save them: a title above the column names, an old kind of workbook, sheets that nobody sees."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Literal

import pytest
from openpyxl import Workbook

from wearstats.errors import InputError
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport

_ROWS = [["shaft", "pattern"], ["S1", "P"]]
_PATTERN = "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm\nP,8,6,6.02,32,36,30\n"


def _added(folder: Path, file: Path) -> IntakeReport:
    patterns = folder / "patterns.csv"
    patterns.write_text(_PATTERN, encoding="utf-8")
    create_store(folder / "s.duckdb")
    with open_store(folder / "s.duckdb", write=True) as store:
        return add_files(store, [patterns, file], added_on=datetime.date(2026, 1, 1))


def _workbook(path: Path, rows: list[list[str]], *, state: Literal["visible", "hidden"] = "visible") -> Path:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "shafts"
    for row in rows:
        sheet.append(row)
    other = book.create_sheet("remarks")
    other.append(["nothing"])
    sheet.sheet_state = state
    book.active = other
    book.save(path)
    return path


def test_a_title_above_the_column_names_is_told_with_the_row_of_these(tmp_path: Path) -> None:
    title = [["Shafts of our customers"], ["printed on 2026-01-01"], *_ROWS]
    text = tmp_path / "shafts.csv"
    text.write_text("\n".join(",".join(row) for row in title), encoding="utf-8")
    for number, file in enumerate((text, _workbook(tmp_path / "w.xlsx", title))):
        folder = tmp_path / str(number)
        folder.mkdir()
        with pytest.raises(InputError, match=r"row 3: looks like the column names.*delete what stands above row 3"):
            _added(folder, file)


def test_an_old_workbook_is_to_be_saved_anew(tmp_path: Path) -> None:
    file = tmp_path / "shafts.xls"
    file.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))
    with pytest.raises(InputError, match=r"old kind of workbook \(\.xls\).*save it as \.xlsx or CSV"):
        _added(tmp_path, file)


def test_a_hidden_sheet_is_read_and_told(tmp_path: Path) -> None:
    report = _added(tmp_path, _workbook(tmp_path / "w.xlsx", _ROWS, state="hidden"))
    assert report.kept_out == 0
    assert "w.xlsx, sheet shafts: is hidden, and was read all the same" in report.notes
