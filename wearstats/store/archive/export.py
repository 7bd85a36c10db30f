"""The store written out as files that intake takes again: a folder of CSV files, or one workbook.

Added to a new store, the files give the same tables. What is not in them, because no file brings it, stays in a
backup: the history of corrections, the days on which files were added, the rows kept out, the advice given. Widths
stand as they were typed, in the unit of their inspection, but always with a decimal point.

A text that a spreadsheet would run as a formula (it begins with ``=``, ``+``, ``-``, ``@``, a tab or a return, and is
no plain number) is written with an apostrophe before it; so is one that begins with apostrophes and then one of these.
So is such a place inside a text behind a semicolon, a tab or a line end, for a spreadsheet that takes these for the
ends of cells. Intake takes one apostrophe off again, so the text comes back as it was, however often it goes round.
"""

from __future__ import annotations

import datetime
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pandas as pd

from wearstats.domain.tables import TABLES, Table
from wearstats.errors import StoreError
from wearstats.store.archive.anonymous import (
    KINDS,
    LEFT_OUT,
    REGISTERED,
    UNNAMED,
    alias_names,
    aliased,
    aliased_list,
)
from wearstats.store.database.columns import contract_text, key_json
from wearstats.store.database.connection import Store

if TYPE_CHECKING:
    from openpyxl import Workbook

FORMULA = r"^'*[=+\-@\t\r]"
"""How a text begins that gets an apostrophe before it."""

FORMULA_INSIDE = r"([;\t\n\r])('*[=+\-@])"
"""What gets one inside a text, between the two parts."""

PLAIN = r"^[+\-]?[0-9]+(\.[0-9]+)?$"
"""A number, which is harmless whatever its sign."""

SHEET_ROWS = 1_048_575
"""Most rows of a sheet below its column names; a larger table goes on in a further sheet."""

_NOT_HELD = re.compile("[\r\ufffe\uffff]")
"""Signs that a workbook would change or be damaged by, besides those that its writer refuses."""

_NUMBER_KINDS = ("number", "integer")


class _NotHeldError(Exception):
    """A text with such a sign."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportReport:
    """What was written.

    Parameters
    ----------
    to : pathlib.Path
        The folder or the workbook.
    rows : dict
        Table to its number of rows; tables without rows are not written.
    complete_to : datetime.date or None
        The day up to which outcomes were last stated to be complete, which no table holds; None where nobody said.
    """

    to: Path
    rows: dict[str, int]
    complete_to: datetime.date | None = None


def export_folder(
    store: Store, folder: Path | str, *, force: bool = False, anonymous_key: bytes | None = None
) -> ExportReport:
    """Write every table that has rows as a CSV file (UTF-8, comma, decimal point).

    Parameters
    ----------
    folder : pathlib.Path or str
        Where to; made if it is not there.
    force : bool
        Whether files that are there already may be overwritten; those of tables that have no rows any more go.
    anonymous_key : bytes, optional
        Secret with which names are replaced (`wearstats.store.archive.anonymous`); names stay as they are without it.

    Raises
    ------
    StoreError
        Files are there already, or cannot be written.
    """
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise StoreError(f"{folder}: is a file; name a folder, or say --xlsx for one workbook")
    files = {table.name: folder / f"{table.name}.csv" for table in TABLES}
    there = [file.name for file in files.values() if file.exists()]
    if there and not force:
        raise StoreError(
            f"{folder}: holds {', '.join(there)} already; choose another, or say --force to overwrite them"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _building_folder(folder) as building:
            rows = _write_folder(store, building, anonymous_key)
            for name, file in files.items():
                if name in rows:
                    os.replace(building / file.name, file)
                else:
                    file.unlink(missing_ok=True)
    except OSError as refused:
        raise StoreError(f"{folder}: cannot be written to ({refused.strerror}); choose another place") from refused
    return ExportReport(to=folder, rows=rows, complete_to=_stated_end(store))


def export_workbook(store: Store, path: Path | str, *, force: bool = False) -> ExportReport:
    """Write every table that has rows as a sheet of one workbook; numbers are numbers, widths texts as typed.

    Parameters
    ----------
    path : pathlib.Path or str
        The workbook; ``.xlsx`` is added where it is not said.
    force : bool
        Whether one that is there already may be overwritten.

    Raises
    ------
    StoreError
        It is there already, cannot be written, or a text has signs that no workbook can hold.
    """
    path = Path(path)
    if path.suffix.lower() != ".xlsx":
        path = path.with_name(f"{path.name}.xlsx")
    if path.is_dir():
        raise StoreError(f"{path}: is a directory; name a file for the workbook")
    if path.exists() and not force:
        raise StoreError(f"{path}: is there already; choose another name, or say --force to overwrite it")
    building = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        rows = _write_workbook(store, building)
        os.replace(building, path)
    except OSError as refused:
        raise StoreError(f"{path}: cannot be written ({refused.strerror}); choose another place") from refused
    finally:
        building.unlink(missing_ok=True)
    return ExportReport(to=path, rows=rows, complete_to=_stated_end(store))


def _stated_end(store: Store) -> datetime.date | None:
    stated = (
        "select arg_max(complete_to, intake) from intakes where complete_to is not null "
        "and intake not in (select undoes from intakes where undoes is not null)"
    )
    found: datetime.date | None = store.value(stated)
    return found


@contextmanager
def _building_folder(folder: Path) -> Iterator[Path]:
    """Give a folder for files that are not whole yet, beside those that will take their place."""
    building = folder / f".{os.getpid()}.new"
    building.mkdir()
    try:
        yield building
    finally:
        shutil.rmtree(building, ignore_errors=True)


def _write_folder(store: Store, folder: Path, anonymous_key: bytes | None = None) -> dict[str, int]:
    store.allow_files()
    rows = {}
    anonymous = anonymous_key is not None
    names = alias_names(store, key=anonymous_key) if anonymous_key is not None else pd.DataFrame({"kind": []})
    try:
        with store.frame(REGISTERED, names):
            for table in TABLES:
                count = 0 if anonymous and table.name in UNNAMED else _count(store, table)
                if count:
                    rows[table.name] = count
                    place = str(folder / f"{table.name}.csv").replace("'", "''")
                    sql = _rows_sql(store, table, anonymous=anonymous)
                    store.execute(f"copy ({sql}) to '{place}' (format csv, header, delimiter ',')")
    except duckdb.Error as refused:
        raise StoreError(f"{folder}: cannot be written to ({str(refused).splitlines()[0]})") from refused
    finally:
        store.forbid_files()
    return rows


def _write_workbook(store: Store, path: Path) -> dict[str, int]:
    from openpyxl import Workbook
    from openpyxl.utils.exceptions import IllegalCharacterError

    rows = {table.name: count for table in TABLES if (count := _count(store, table))}
    with path.open("wb") as opened:
        book = Workbook(write_only=True)
        try:
            for table in TABLES:
                if table.name in rows:
                    _add_sheets(book, table, *_fetched(store, table))
        except (IllegalCharacterError, _NotHeldError) as refused:
            for sheet in book:
                sheet.close()
            raise StoreError(
                f"{book.worksheets[-1].title}: has a text with signs that no workbook can hold; export CSV instead"
            ) from refused
        if not rows:
            # a workbook must have a sheet
            book.create_sheet("empty")
        book.save(opened)
    return rows


def _add_sheets(book: Workbook, table: Table, names: list[str], rows: list[tuple[str | None, ...]]) -> None:
    """Write one table to a workbook, to as many sheets as it needs."""
    numbers = {column.name for column in table.columns if column.kind in _NUMBER_KINDS}
    as_number = [name in numbers for name in names]
    for part, start in enumerate(range(0, len(rows), SHEET_ROWS)):
        sheet = book.create_sheet(table.name if part == 0 else f"{table.name} {part + 1}")
        sheet.append(names)
        for row in rows[start : start + SHEET_ROWS]:
            sheet.append([_cell(text, number=number) for text, number in zip(row, as_number, strict=True)])


def _cell(text: str | None, *, number: bool) -> str | float | int | None:
    """Give a number as a spreadsheet holds it, where it holds all its digits; else the text."""
    if text is None or not number:
        if text is not None and _NOT_HELD.search(text):
            raise _NotHeldError(text)
        return text
    value = float(text)
    if len(re.sub(r"[^0-9]", "", text).strip("0")) > 12:
        return text
    return int(value) if value.is_integer() else value


def _count(store: Store, table: Table) -> int:
    return int(store.value(f"select count(*) from {table.name}"))


def _fetched(store: Store, table: Table) -> tuple[list[str], list[tuple[str | None, ...]]]:
    """Fetch a table as intake takes it: the names of its columns and its rows of texts."""
    sql = _rows_sql(store, table)
    names = [str(row[0]) for row in store.rows(f"describe {sql}")]
    return names, store.rows(sql)


def _rows_sql(store: Store, table: Table, *, anonymous: bool = False) -> str:
    """Write the statement that gives a table's rows as intake takes them, in the order of their key."""
    written = contract_text(table)
    key = key_json(table)
    columns = []
    joins = []
    for column in table.columns:
        text = written[column.name]
        if anonymous and column.name in LEFT_OUT:
            continue
        if anonymous and column.kind == "list" and column.name in KINDS:
            own = table.key[0]
            listed = aliased_list(table.name, own, column.name, KINDS[column.name])
            joins.append(f'left join {listed} as listed on listed.listed_for = held."{own}"')
            text = "listed.aliases"
        elif anonymous and column.name in KINDS:
            text = aliased(text, KINDS[column.name])
        if column.kind == "width":
            text = f"replace({text}, ',', '.')"
        if column.kind in ("text", "list", "width"):
            text = harmless(text)
        columns.append(f'{text} as "{column.name}"')
    for place, name in enumerate([] if anonymous else _note_names(store, table)):
        literal = name.replace("'", "''")
        joins.append(
            f"left join notes as note_{place} on note_{place}.table_name = '{table.name}' "
            f"and note_{place}.column_name = '{literal}' and note_{place}.key_json = {key} "
            f"and note_{place}.ended_by is null"
        )
        heading = harmless_text(name).replace('"', '""')
        columns.append(f'{harmless(f"note_{place}.value")} as "{heading}"')
    order = ", ".join(f'held."{name}"' for name in table.key)
    held = f"(select * from {table.name})"
    return f"select {', '.join(columns)} from {held} as held {' '.join(joins)} order by {'all' if anonymous else order}"


def _note_names(store: Store, table: Table) -> list[str]:
    """List the columns beyond the contract's that files have brought for a table."""
    found = store.rows(
        "select distinct column_name from notes where table_name = $table order by column_name", {"table": table.name}
    )
    return [str(name) for (name,) in found]


def harmless_text(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run; intake takes it off again."""
    inside = re.sub(FORMULA_INSIDE, r"\1'\2", text)
    return f"'{inside}" if re.match(FORMULA, text) and not re.fullmatch(PLAIN, text) else inside


def harmless(text: str) -> str:
    """Write the SQL that puts an apostrophe before a text that a spreadsheet would run."""
    start, inside = (pattern.replace("'", "''") for pattern in (FORMULA, FORMULA_INSIDE))
    within = f"regexp_replace({text}, '{inside}', '\\1''\\2', 'g')"
    return (
        f"case when regexp_matches({text}, '{start}') and not regexp_full_match({text}, '{PLAIN}') "
        f"then '''' || {within} else {within} end"
    )
