"""Rows of text on their way into a table: where they are staged and what their columns mean."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import pandas as pd

from wearstats.domain.examples import example_of
from wearstats.domain.tables import HUB_ENDS, STATIONS, TABLE_BY_NAME, Table
from wearstats.errors import Problem
from wearstats.store.database.statements import quoted_name
from wearstats.store.parsing.blocks import REJECT_COLUMNS, Block, canonical, table_named
from wearstats.store.parsing.cells import cleaned
from wearstats.store.parsing.xlsx import Rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Ragged:
    """A row with more or fewer cells than there are columns."""

    row: int
    cells: tuple[str | None, ...]
    columns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """Rows of text on their way into one table.

    Parameters
    ----------
    file : str
        File, and sheet, as messages name it.
    table : Table
        Where the rows belong.
    relation : str
        Temporary table that holds them; its ``rowid`` tells them apart.
    row_number : str
        SQL that gives a row's number in the file.
    columns : dict
        Name as in the contract (or as typed, for columns that no table has) to the temporary table's column.
    sha256 : str
        Hash of the content.
    ragged : tuple of Ragged
        Rows that could not be staged.
    semicolons : bool
        Whether semicolons set the columns apart, as is done where the comma is the decimal mark.
    said : tuple of str
        The columns said once, above all rows.
    notes : tuple of str
        What to tell about the file besides its problems.
    lacking : tuple of str
        What an owner's sheet would have to say besides, to bring its own inspection.
    """

    file: str
    table: Table
    relation: str
    row_number: str
    columns: dict[str, str]
    sha256: str
    ragged: tuple[Ragged, ...] = ()
    semicolons: bool = False
    said: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()

    @property
    def extra(self) -> dict[str, str]:
        """The columns that the table does not have, without those of exported rejects."""
        known = {column.name for column in self.table.columns} | {*REJECT_COLUMNS}
        return {name: held for name, held in self.columns.items() if name not in known}


def renamed(incoming: Incoming, *, relation: str, columns: dict[str, str], row_number: str) -> Incoming:
    """Give the same rows in another shape."""
    return replace(incoming, relation=relation, columns=columns, row_number=row_number)


def kept_names(table: Table, headings: Sequence[str]) -> list[str]:
    """Give the contract's name of each column, and to columns that no table has the name they bear."""
    known = {column.name for item in TABLE_BY_NAME.values() for column in item.columns} | {*REJECT_COLUMNS}
    if table.name == "readings":
        known |= {*STATIONS}
    if table.name == "hub_spaces":
        known |= {*HUB_ENDS}
    names = [canonical(heading) for heading in headings]
    return [name if name in known else cleaned(heading) or name for name, heading in zip(names, headings, strict=True)]


def text_of(name: str, sql_type: str) -> str:
    """Give the SQL that writes a typed column as text."""
    quoted = quoted_name(name)
    if sql_type in ("DOUBLE", "FLOAT"):
        # an exponent, which intake refuses, is written out; infinities stay what they are, to be refused
        return (
            f"case when isnan({quoted}) then null when isfinite({quoted}) and contains({quoted}::varchar, 'e') "
            f"and abs({quoted}) < 1e18 then {quoted}::decimal(38, 12)::varchar else {quoted}::varchar end"
        )
    if sql_type == "BOOLEAN":
        return f"case when {quoted} then 'yes' when not {quoted} then 'no' end"
    if sql_type.startswith("TIMESTAMP"):
        return f"case when {quoted} = {quoted}::date then {quoted}::date::varchar else {quoted}::varchar end"
    if sql_type.endswith("[]"):
        return f"array_to_string({quoted}, ';')"
    return f"{quoted}::varchar"


def frame_sha256(frame: pd.DataFrame) -> str:
    """Hash what a frame holds."""
    hashed = pd.util.hash_pandas_object(frame.astype(str), index=False)
    return hashlib.sha256(hashed.to_numpy().tobytes() + "\x1f".join(frame.columns).encode()).hexdigest()


OWN_SHEETS: Final = frozenset({"how to fill it in", "words to choose from"})
"""Sheets of the program's own workbooks that hold no rows."""


def filled_sheets(sheets: dict[str, Rows]) -> dict[str, Rows]:
    """Leave out the sheets of a form that nobody wrote on, unless that is all of them, and what the program wrote."""
    sheets = {name: rows for name, rows in sheets.items() if name not in OWN_SHEETS}
    written = {
        name: rows
        for name, rows in sheets.items()
        if table_named(name) is None or sum(any((cell or "").strip() for cell in row) for row in rows) > 1
    }
    return written if any(table_named(name) for name in written) else sheets


def sheet_without_rows(place: str, block: Block) -> Problem:
    """Say that a sheet speaks of rows and has none: unlike a table's file, it was cut off."""
    example = {column.name: example_of(column) for column in block.table.columns}
    width = example_of(TABLE_BY_NAME["readings"].column("width"))
    return Problem(
        place=place,
        found="has column names but no rows",
        allowed="at least one row",
        next_step="paste it whole",
        example=",".join(example.get(canonical(heading), width) for heading in block.headings),
    )
