"""A single row is taken out, with what is part of it; or put under another day, where the day stands in its key.

A row that was retracted and arrives again counts as a duplicate: an old spreadsheet must not bring it back.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Final

import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME, TABLES, Table
from wearstats.errors import InputError, Problem, UsageError
from wearstats.store.database.columns import contract_text, key_columns
from wearstats.store.database.connection import Store
from wearstats.store.database.intakes import begin_intake
from wearstats.store.intake.add import load_staged
from wearstats.store.parsing.staging import Staging, stage_paths
from wearstats.store.taking_back.report import TakenBack
from wearstats.store.taking_back.rows import begin_going, called, counted, go, go_with, mentions, sum_anew, take_out

_PARTS: Final = {"inspections": ("readings",)}
"""What is part of a row and goes with it unasked."""


def retract(
    store: Store,
    table: str,
    key: Sequence[str],
    *,
    on: datetime.date,
    because: str | None = None,
    instead: Mapping[str, str] | None = None,
    with_all: bool = False,
) -> TakenBack:
    """Take a row out.

    Parameters
    ----------
    store : Store
        Open for writing.
    table : str
        Its table.
    key : sequence of str
        The values of the table's key columns, in their order; those with a default may be left out at the end.
    on : datetime.date
        The day from which it counts as taken out.
    because : str, optional
        Why.
    instead : mapping, optional
        Key column to value under which the same row is put in again, by the same intake.
    with_all : bool
        Whether what rests on it goes too; readings go with their inspection unasked.

    Raises
    ------
    UsageError
        When there is no such table, key or row.
    InputError
        When other rows rest on it, with what they are; or the row cannot be put in again as said. Nothing is done then.
    """
    found = _table(table)
    values = _key(found, key)
    condition = " and ".join(f"held.{c.quoted} = try_cast(${c.name}_ as {c.sql_type})" for c in key_columns(found))
    named = {f"{c.name}_": value for c, value in zip(key_columns(found), values, strict=True)}
    row = _row(store, found, condition, named)
    if row is None:
        raise UsageError(_not_there(store, found, values, condition, named))
    staging = None if not instead else _staged(store, found, row, instead)
    try:
        with store.transaction():
            begin_going(store)
            go(store, found, condition, named)
            resting = go_with(store)
            # where the row stays under another key nothing may rest on its old one
            parts = () if instead else _PARTS.get(found.name, ())
            if (unwanted := {name: rows for name, rows in resting.items() if name not in parts}) and (
                instead or not with_all
            ):
                raise InputError(_resting(found, values, unwanted, moved=bool(instead)))
            number = begin_intake(store, on=on, kind="retract", because=because)
            left = mentions(store)
            out = {name.name: take_out(store, name, intake=number) for name in TABLES}
            back = {} if staging is None else {found.name: _put_in(store, staging, intake=number, on=on)}
            sum_anew(store, intake=number)
    finally:
        if staging is not None:
            staging.drop()
    return TakenBack(
        intake=number,
        kind="retract",
        out={name: rows for name, rows in out.items() if rows},
        back=back,
        left_behind=left,
    )


def _table(name: str) -> Table:
    wanted = name if name in TABLE_BY_NAME else next((t.name for t in TABLES if called(t.name) == name), name)
    if wanted not in TABLE_BY_NAME:
        raise UsageError(f"TABLE: there is no table {name!r}; allowed: {', '.join(TABLE_BY_NAME)}")
    return TABLE_BY_NAME[wanted]


def _key(table: Table, key: Sequence[str]) -> list[str]:
    """Fill up a key with defaults; refuse one of another length."""
    wanted = [table.column(name) for name in table.key]
    filled = [*key, *(column.default for column in wanted[len(key) :] if column.default is not None)]
    if len(filled) != len(wanted):
        raise UsageError(
            f"KEY: {' '.join(key) or 'nothing'} names no row of {table.name}; allowed: its {', '.join(table.key)}, "
            f"in this order, for instance: wearstats store retract {table.name} {' '.join(table.key).upper()}"
        )
    return filled


def _row(store: Store, table: Table, condition: str, named: Mapping[str, str]) -> dict[str, str | None] | None:
    """Give a row as files bear it."""
    texts = ", ".join(f'{text} as "{name}"' for name, text in contract_text(table).items())
    found = store.table(f"select {texts} from {table.name} as held where {condition}", named)
    if found.empty:
        return None
    return {str(name): None if pd.isna(text) else str(text) for name, text in found.iloc[0].items()}


def _not_there(store: Store, table: Table, values: list[str], condition: str, named: dict[str, str]) -> str:
    """Say that there is no such row: retracted already, or what there is of that name."""
    place = f"KEY: there is no {called(table.name)} {', '.join(values)}"
    gone = store.rows(
        f"select intakes.intake, intakes.added_on from history_{table.name} as held "
        f"join intakes on intakes.intake = held.replaced_by where {condition} order by 1 desc limit 1",
        named,
    )
    if gone:
        return f"{place} any more: intake {gone[0][0]} took it out on {gone[0][1]}"
    first = key_columns(table)[0]
    rows = store.rows(
        f"select concat_ws(' ', {', '.join(contract_text(table)[name] for name in table.key)}) "
        f"from {table.name} as held "
        f"where held.{first.quoted}::varchar ilike $part order by 1 limit 5",
        {"part": f"{values[0]}%"},
    )
    near = f"; of that name there are: {'; '.join(text for (text,) in rows)}" if rows else ""
    return f"{place}{near}; its key is {', '.join(table.key)}, as wearstats store export writes them"


def _resting(table: Table, values: list[str], resting: Mapping[str, int], *, moved: bool) -> Problem:
    all_told = ", ".join(counted(name, rows) for name, rows in resting.items())
    step = (
        "wearstats store rename gives a shaft or hub another name with all that is of it"
        if moved
        else "retract those first, or all of it with --with-all"
    )
    return Problem(
        place=f"{called(table.name)} {', '.join(values)}",
        found=f"{all_told} {'rests' if sum(resting.values()) == 1 else 'rest'} on it",
        allowed="a row on which no other rests",
        next_step=step,
    )


def _staged(store: Store, table: Table, row: Mapping[str, str | None], instead: Mapping[str, str]) -> Staging:
    """Stage a row as it stands, under another key."""
    if other := [name for name in instead if name not in table.key]:
        raise UsageError(
            f"--instead: {', '.join(other)} is not in the key of {table.name}; allowed: {', '.join(table.key)}; "
            "other columns are put right by adding the row with --correct"
        )
    frames = {table.name: pd.DataFrame([{**row, **instead}], dtype="str")}
    return stage_paths(store, [], table=None, pasted=None, frames=frames)


def _put_in(store: Store, staging: Staging, *, intake: int, on: datetime.date) -> int:
    """Put a staged row in, through the checks of any file; gives how many came in."""
    staging.refuse_problems()
    report = load_staged(store, staging, intake=intake, bulk=False, added_on=on, correct=False)
    if report.kept_out or not report.files[0].accepted:
        told = [line for file in report.files for line in file.problems] or ["such a row is there already"]
        raise InputError([Problem(place="--instead", found=line) for line in told])
    return report.files[0].accepted
