"""Workbooks: the sheets of an XLSX file as rows of text, numbers and dates as a person would have typed them."""

from __future__ import annotations

import datetime
import lzma
import math
import struct
import warnings
import zipfile
import zlib
from decimal import Decimal
from numbers import Integral, Real
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from wearstats.domain.typed import text_of_number
from wearstats.errors import InputError, Problem
from wearstats.store.parsing.limits import refuse_bomb, refuse_many_cells

if TYPE_CHECKING:
    from collections.abc import Iterable

_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    ParseError,
    InvalidFileException,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    AssertionError,
    ArithmeticError,
    RuntimeError,
    OSError,
    EOFError,
)
"""What reading a damaged workbook was seen to end in, or may: its parts are taken to be there and of their kind."""

Rows = list[list[str | None]]


def cell_text(value: Any) -> str | None:
    """Write a cell's value as text; None for an empty one."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, (list, tuple)):
        return ";".join(text for item in value if (text := cell_text(item)) is not None)
    if isinstance(value, bool) or type(value).__name__ == "bool_":
        return "yes" if value else "no"
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, Real):
        number = float(value)
        if math.isnan(number):
            return None
        return text_of_number(number) if math.isfinite(number) else str(number)
    if isinstance(value, datetime.datetime):
        # pandas writes a missing time as a time that does not equal itself
        if value != value:
            return None
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(sep=" ")
    if isinstance(value, datetime.date):
        return value.isoformat()
    return None if type(value).__name__ in ("NAType", "NaTType") else str(value)


def read_sheets(path: Path) -> dict[str, Rows]:
    """Read the sheets of a workbook that hold anything.

    Parameters
    ----------
    path : pathlib.Path
        An XLSX file.

    Returns
    -------
    dict
        Sheet name to its rows from the top, each a list of texts.

    Raises
    ------
    InputError
        Not a workbook, an empty one, or one with formulas whose values were not saved.
    """
    try:
        with warnings.catch_warnings():
            # it warns of drop-down lists and the like, which hold no data
            warnings.simplefilter("ignore")
            refuse_bomb(path)
            values = _all_cells(path, values=True)
            formulas = _all_cells(path, values=False)
    except _DAMAGED as refused:
        raise InputError(
            Problem(
                place=path.name,
                found="is no XLSX workbook, or a damaged one",
                allowed="a workbook saved as .xlsx",
                next_step="save it again, or save the sheet as CSV",
            )
        ) from refused
    problems = [
        Problem(
            place=f"{path.name}, sheet {name}, row {row}",
            found=f"the formula '{formula}' was saved without its value",
            allowed="values",
            next_step="open and save it in a spreadsheet program, or paste the values",
        )
        for name, rows in formulas.items()
        for row, cells in enumerate(rows, start=1)
        for at, formula in enumerate(cells)
        if isinstance(formula, str) and formula.startswith("=") and values[name][row - 1][at] is None
    ]
    if problems:
        raise InputError(problems)
    texts = {name: [[cell_text(cell) for cell in cells] for cells in rows] for name, rows in values.items()}
    filled = {name: rows for name, rows in texts.items() if any(cell and cell.strip() for row in rows for cell in row)}
    if not filled:
        raise InputError(
            Problem(
                place=path.name,
                found="the workbook is empty",
                allowed="a sheet with a line of column names and rows below it",
                next_step="check that the right file was saved",
            )
        )
    return filled


def hidden_sheets(path: Path) -> set[str]:
    """Name the sheets of a sound workbook that whoever opens it does not see."""
    with path.open("rb") as opened, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(opened, read_only=True)
        return {sheet.title for sheet in book.worksheets if sheet.sheet_state != "visible"}


def _all_cells(path: Path, *, values: bool) -> dict[str, list[tuple[Any, ...]]]:
    # opened here, for its reader leaves a damaged one open
    with path.open("rb") as opened:
        book = load_workbook(opened, read_only=True, data_only=values)
        cells: dict[str, list[tuple[Any, ...]]] = {}
        for sheet in book.worksheets:
            # some programs write a wrong size into the file
            sheet.reset_dimensions()
            cells[sheet.title] = _even(
                _filled_rows(sheet.iter_rows(values_only=True), place=f"{path.name}, sheet {sheet.title}")
            )
        return cells


def _filled_rows(cells: Iterable[tuple[Any, ...]], *, place: str) -> list[tuple[Any, ...]]:
    """Fetch a sheet's rows up to the last that holds anything; one far-off cell must not fill the memory."""
    rows: list[tuple[Any, ...]] = []
    width = empty = 0
    for row in cells:
        length = next((at for at in range(len(row), 0, -1) if row[at - 1] is not None), 0)
        if not length:
            empty += 1
            continue
        width = max(width, length)
        refuse_many_cells(len(rows) + empty + 1, width, place=place)
        rows += [()] * empty
        rows.append(row[:length])
        empty = 0
    return rows


def _even(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Make all rows, also those that the reader makes up where none was saved, tuples as long as the longest."""
    width = max((len(row) for row in rows), default=0)
    return [(*row, *[None] * (width - len(row))) for row in rows]
