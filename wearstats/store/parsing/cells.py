"""Rows of text into rows of values: every cell read by the rules of the domain, every refusal kept with its reason.

A column is read by its different texts, not row by row: a thousand fittings know three methods.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np
import pandas as pd

from wearstats.domain.dates import parse_date, parse_day_or_month
from wearstats.domain.tables import GAUGE_KINDS, Column, Table
from wearstats.domain.typed import (
    DecimalMark,
    TypedValueError,
    decimal_mark_of,
    parse_integer,
    parse_number,
    parse_size,
    parse_unit,
    quoted,
    without_unit,
)
from wearstats.domain.units import Unit, tenths_to_mm, um_exact
from wearstats.domain.words import gauge_kind
from wearstats.store.database.columns import StoreColumn, store_columns

Texts = tuple[str | None, ...]
_YES_NO = {"yes": "true", "no": "false", "y": "true", "n": "false", "true": "true", "false": "false"}
# a text that a spreadsheet would take for a formula is exported with an apostrophe before it
_HARMLESS = re.compile(r"\A'('*[=+\-@\t\r])")
_HARMLESS_INSIDE = re.compile(r"([;\t\n\r])'('*[=+\-@])")
UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
"""Signs that no name has and no workbook holds: controls but for tab and line ends, and what is no character."""

_NAMED_UNITS: tuple[Literal["mm", "um"], ...] = ("mm", "um")
"""Units that columns bear at the end of their names."""

NUMERIC_KINDS = frozenset({"number", "width", "integer"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CellProblem:
    """Why one cell cannot be accepted.

    Parameters
    ----------
    column : str
        The contract's column; empty where the row as a whole is meant.
    found, allowed, next_step : str
        As in `wearstats.errors.Problem`.
    """

    column: str
    found: str
    allowed: str = ""
    next_step: str = ""

    @classmethod
    def of(cls, column: str, refused: TypedValueError) -> CellProblem:
        """Say where a refused text stood."""
        return cls(column=column, found=refused.found, allowed=refused.allowed, next_step=refused.next_step)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRows:
    """What came of reading some rows.

    Parameters
    ----------
    cells : pandas.DataFrame
        The store's columns that the rows speak of, as texts that SQL casts without loss; None is nothing known. Same
        index as the rows read.
    columns : tuple of StoreColumn
        Those columns.
    problems : dict
        Index of a row to what is wrong with it; rows that are not in it are sound.
    """

    cells: pd.DataFrame
    columns: tuple[StoreColumn, ...]
    problems: dict[int, list[CellProblem]]


def cleaned(text: str | None) -> str | None:
    """Take off the blanks around a text and the apostrophes of an export; None where nothing is left."""
    if text is None:
        return None
    bare = text.strip()
    if "'" not in bare:
        return bare or None
    bare = _HARMLESS.sub(r"\1", bare, count=1) if bare.startswith("'") else bare
    return _HARMLESS_INSIDE.sub(r"\1\2", bare)


def mark_of(texts: list[str], *, semicolons: bool) -> DecimalMark | None:
    """Find the decimal mark that a file's numbers use.

    Parameters
    ----------
    texts : list of str
        The numbers as typed.
    semicolons : bool
        Whether semicolons set the file's columns apart. That is done where the comma is the decimal mark: if no number
        then has a point, the comma is taken for it even where each number by itself, such as ``5,981``, leaves it open.

    Returns
    -------
    {".", ","} or None
        None where the file does not tell.
    """
    mark = decimal_mark_of(texts)
    if mark is None and semicolons and not any("." in text for text in texts):
        return ","
    return mark


def file_decimal_mark(table: Table, frame: pd.DataFrame, *, semicolons: bool = False) -> DecimalMark | None:
    """Find the decimal mark that the numbers of a file's rows use; None where they do not tell."""
    numeric = [column.name for column in table.columns if column.kind in NUMERIC_KINDS and column.name in frame]
    texts = [str(text) for name in numeric for text in frame[name].dropna().unique()]
    return mark_of(texts, semicolons=semicolons)


def read_rows(table: Table, frame: pd.DataFrame, *, decimal_mark: DecimalMark | None = None) -> ReadRows:
    """Read rows of text.

    Parameters
    ----------
    table : Table
        Which table they belong to.
    frame : pandas.DataFrame
        A column of text, named as in the contract, for each that the file bears; one row a row.
    decimal_mark : {".", ","}, optional
        The file's decimal mark where it is known.
    """
    problems: dict[int, list[CellProblem]] = {}
    values: dict[str, np.ndarray[tuple[int], np.dtype[np.object_]]] = {}
    made: list[StoreColumn] = []
    units = _units(table, frame)
    for column in table.columns:
        if column.name not in frame and column.default is None:
            continue
        laid = [item for item in store_columns(table) if item.source == column.name]
        texts = _texts(frame, column)
        if column.kind == "width" or column.name == "resolution":
            codes, pairs = _distinct(list(zip(texts, units, strict=True)))
        else:
            codes, pairs = _distinct([(text, None) for text in texts])
        parsed: list[Texts] = []
        for code, (text, unit) in enumerate(pairs):
            try:
                parsed.append(_read_cell(column, text, unit, decimal_mark, len(laid)))
            except TypedValueError as refused:
                parsed.append((None,) * len(laid))
                problem = CellProblem.of(column.name, refused)
                for index in frame.index[codes == code]:
                    problems.setdefault(int(index), []).append(problem)
        for place, item in enumerate(laid):
            distinct = np.array([found[place] for found in parsed], dtype=object)
            values[item.name] = distinct[codes] if len(distinct) else np.empty(0, dtype=object)
        made.extend(laid)
    return ReadRows(cells=pd.DataFrame(values, index=frame.index), columns=tuple(made), problems=problems)


def _texts(frame: pd.DataFrame, column: Column) -> list[str | None]:
    """Give a column's texts, None for blank ones and for a column that is not there."""
    if column.name not in frame:
        return [None] * len(frame)
    return [None if text is None or text != text else cleaned(str(text)) for text in frame[column.name].tolist()]


def _units(table: Table, frame: pd.DataFrame) -> list[str | None]:
    """Give the unit that each row states for the sizes in it."""
    if all(column.name != "unit" for column in table.columns) or "unit" not in frame:
        return [None] * len(frame)
    return _texts(frame, table.column("unit"))


def _distinct(
    pairs: list[tuple[str | None, str | None]],
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], list[tuple[str | None, str | None]]]:
    """Give each different pair a number, in the order met."""
    numbers: dict[tuple[str | None, str | None], int] = {}
    codes = np.array([numbers.setdefault(pair, len(numbers)) for pair in pairs], dtype=np.intp)
    return codes, list(numbers)


def _read_cell(column: Column, text: str | None, unit: str | None, mark: DecimalMark | None, places: int) -> Texts:
    """Read one cell into the values of the store's columns made from it; raises `TypedValueError`."""
    if text is None:
        if column.default is not None:
            text = column.default
        elif column.required:
            raise TypedValueError("nothing is written", allowed=_allowed(column), next_step="fill it in")
        else:
            return (None,) * places
    refuse_unprintable(text)
    if column.kind == "width":
        size = parse_size(text, _unit(unit), decimal_mark=mark)
        return text, f"{tenths_to_mm(size.tenths):f}"
    if column.name == "resolution":
        said = _unit(unit)
        value = _in_range(column, text, parse_number(without_unit(text, said), decimal_mark=mark).value)
        return f"{value:f}", f"{um_exact(value, said):f}"
    if column.kind == "day_or_month":
        day = parse_day_or_month(text)
        return text, day.first.isoformat(), day.last.isoformat()
    return (_READERS[column.kind](column, text, mark),)


def refuse_unprintable(text: str) -> None:
    """Refuse a text with a sign that files could not carry back; raises `TypedValueError`."""
    found = UNPRINTABLE.search(text)
    if found is not None:
        raise TypedValueError(
            f"{quoted(UNPRINTABLE.sub(chr(0xFFFD), text))} has a sign that cannot be printed (U+{ord(found[0]):04X})",
            allowed="letters, digits and other signs that can be seen",
            next_step="write it anew without that sign",
        )


def _unit(unit: str | None) -> Unit:
    """Read the unit of a row; what is wrong with it is said once, at its own column."""
    if unit is None:
        raise TypedValueError("its unit is not given", allowed="mm, in, thou, tenth-thou", next_step="give the unit")
    try:
        return parse_unit(unit)
    except TypedValueError:
        raise TypedValueError(
            f"the unit {quoted(unit)} cannot be read", allowed="mm, in, thou, tenth-thou", next_step="correct the unit"
        ) from None


def _in_range(column: Column, text: str, value: Decimal) -> Decimal:
    """Refuse a number outside its column's plausible range."""
    below = column.low is not None and value < Decimal(str(column.low))
    above = column.high is not None and value > Decimal(str(column.high))
    if below or above:
        raise TypedValueError(
            f"{quoted(text)} is out of range", allowed=_allowed(column), next_step="check the unit and the decimals"
        )
    return value


def _read_number(column: Column, text: str, mark: DecimalMark | None) -> str:
    unit = next((unit for unit in _NAMED_UNITS if column.name.endswith(f"_{unit}")), None)
    bare = text if unit is None else without_unit(text, unit)
    return f"{_in_range(column, text, parse_number(bare, decimal_mark=mark).value):f}"


def _read_integer(column: Column, text: str, _mark: DecimalMark | None) -> str:
    return str(_in_range(column, text, Decimal(parse_integer(text))))


def _read_date(_column: Column, text: str, _mark: DecimalMark | None) -> str:
    return parse_date(text).isoformat()


def _read_yes_no(_column: Column, text: str, _mark: DecimalMark | None) -> str:
    try:
        return _YES_NO[text.lower()]
    except KeyError:
        raise TypedValueError(f"{quoted(text)} is neither yes nor no", allowed="yes, no or nothing") from None


def _read_choice(column: Column, text: str, _mark: DecimalMark | None) -> str:
    if column.name == "unit":
        return parse_unit(text)
    if column.choices == GAUGE_KINDS and (kind := gauge_kind(text)) is not None:
        return kind
    if text.lower() in column.choices:
        return text.lower()
    near = difflib.get_close_matches(text.lower().replace(" ", "-").replace("_", "-"), column.choices, n=1)
    step = f"did you mean {near[0]}?" if near else "write one of these words"
    raise TypedValueError(f"{quoted(text)} is not known here", allowed=_allowed(column), next_step=step)


def _read_text(_column: Column, text: str, _mark: DecimalMark | None) -> str:
    return text


def _read_list(column: Column, text: str, mark: DecimalMark | None) -> str:
    parts = [part for item in _LIST_MARK[bool(column.choices)].split(text) if (part := item.strip())]
    return ";".join(dict.fromkeys(_read_choice(column, part, mark) for part in parts) if column.choices else parts)


_LIST_MARK = {False: re.compile(";"), True: re.compile(r"[;,]|\s+and\s+")}
"""What stands between the items of a list: words that are known may also be joined as a sentence joins them."""

_READERS: dict[str, Callable[[Column, str, DecimalMark | None], str]] = {
    "number": _read_number,
    "integer": _read_integer,
    "date": _read_date,
    "yes_no": _read_yes_no,
    "choice": _read_choice,
    "text": _read_text,
    "list": _read_list,
}


def _allowed(column: Column) -> str:
    """Say what a column takes."""
    if column.choices:
        return ", ".join(column.choices)
    if column.low is not None and column.high is not None:
        return f"{column.low:.12g} to {column.high:.12g}"
    words = {"date": "a date written YYYY-MM-DD", "number": "a number", "integer": "a whole number", "width": "a size"}
    return words.get(column.kind, "a value in every row")
