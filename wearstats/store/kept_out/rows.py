"""Rows kept out: written down with their reasons, listed, and settled once they are in after all."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from wearstats.domain.examples import example_of
from wearstats.domain.tables import Table
from wearstats.errors import Problem
from wearstats.store.database.columns import contract_text
from wearstats.store.database.connection import Store
from wearstats.store.parsing.cells import CellProblem


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOut:
    """A row that was not taken in.

    Parameters
    ----------
    row : int
        Its number in the file.
    outcome : str
        ``rejected`` or ``conflict``.
    problems : sequence of CellProblem
        At least one.
    cells : mapping
        The whole row as it stood, column to text.
    """

    row: int
    outcome: str
    problems: Sequence[CellProblem]
    cells: Mapping[str, str | None]


def place_of(file: str, row: int, column: str) -> str:
    """Name a place as messages do: ``readings.csv, row 14, width``."""
    return f"{file}, row {row}, {column}" if column else f"{file}, row {row}"


def as_problem(table: Table, file: str, row: int, problem: CellProblem, *, outcome: str = "rejected") -> Problem:
    """Say what is wrong with a cell, with its place, and a right value where the next step names none."""
    column = next((column for column in table.columns if column.name == problem.column), None)
    says = outcome == "conflict" or any(sign.isdigit() or sign == "?" for sign in problem.next_step)
    return Problem(
        place=place_of(file, row, problem.column),
        found=problem.found,
        allowed=problem.allowed,
        next_step=problem.next_step,
        example="" if column is None or says else example_of(column),
    )


def keep_out(store: Store, table: Table, kept_out: Sequence[KeptOut], *, intake: int, file: str) -> None:
    """Write down rows that were not taken in."""
    if not kept_out:
        return
    rows = [
        {
            "row_no": kept.row,
            "outcome": kept.outcome,
            "column_name": kept.problems[0].column,
            "found": kept.problems[0].found,
            "allowed": kept.problems[0].allowed,
            "next_step": kept.problems[0].next_step,
            "more": "\n".join(str(as_problem(table, file, kept.row, problem)) for problem in kept.problems[1:]),
            "row_json": json.dumps(dict(kept.cells), ensure_ascii=False),
        }
        for kept in kept_out
    ]
    with store.frame("rows_kept_out", pd.DataFrame(rows)):
        keep_out_relation(store, table, "rows_kept_out", intake=intake, file=file)


def keep_out_relation(store: Store, table: Table, relation: str, *, intake: int, file: str) -> None:
    """Write down rows that were not taken in, from a table of them in the order in which they stood."""
    store.execute(
        "insert into rejects (reject, intake, file, table_name, row_no, outcome, column_name, found, allowed, "
        "next_step, more, row_json) select (select coalesce(max(reject), 0) from rejects) + row_number() over (), "
        "$intake::integer, $file, $table, row_no, outcome, nullif(column_name, ''), found, allowed, next_step, more, "
        f"row_json from {relation}",
        {"intake": intake, "file": file, "table": table.name},
    )


def settle(store: Store, table: Table, *, intake: int, numbers: Sequence[int] = ()) -> int:
    """Mark rejects as settled whose mended row has come in.

    Parameters
    ----------
    store : Store
        In the transaction of the intake, after its rows are in.
    table : Table
        The table that the rows belong to.
    intake : int
        The number of the intake.
    numbers : sequence of int
        Rejects named by the ``reject`` column of rows that came in.

    Returns
    -------
    int
        How many were settled, by their number or by the key of a row that came in.
    """
    written = contract_text(table)
    same = " and ".join(
        f"held.{name} = coalesce(trim(json_extract_string(rejects.row_json, '$.{name}')), {_default(table, name)})"
        for name in (f'"{key}"' for key in table.key)
    )
    keys = ", ".join(f'{written[name]} as "{name}"' for name in table.key)
    settled = store.rows(
        "update rejects set settled_by = $intake::integer where settled_by is null and intake < $intake::integer and "
        "table_name = $table and (list_contains($numbers::integer[], reject) or exists (select 1 from "
        f"(select {keys} from {table.name} where intake = $intake::integer) as held where {same})) returning reject",
        {"intake": intake, "table": table.name, "numbers": list(numbers)},
    )
    return len(settled)


def mended_places(store: Store, table: Table, *, intake: int, file: str) -> list[int]:
    """List the rows of a file of this name whose earlier rejects are still open."""
    rows = store.rows(
        "select distinct row_no from rejects where settled_by is null and dismissed_on is null and "
        "intake < $intake::integer and table_name = $table and file = $file order by 1",
        {"intake": intake, "table": table.name, "file": file},
    )
    return [int(row[0]) for row in rows]


def settle_places(
    store: Store, table: Table, *, intake: int, file: str, rows: Sequence[tuple[int, Mapping[str, str | None]]]
) -> int:
    """Mark rejects as settled whose row, mended, now stands at the same place of a file of the same name.

    Parameters
    ----------
    file : str
        The file's name.
    rows : sequence of (int, mapping)
        The rows of that file that came in or are in already: number and cells. A row counts as mended where no more
        cells differ than were refused, so that another file of the same name closes nothing.

    Returns
    -------
    int
        How many were settled.
    """
    found = store.rows(
        "select reject, row_no, row_json, more from rejects where settled_by is null and dismissed_on is null and "
        "intake < $intake::integer and table_name = $table and file = $file",
        {"intake": intake, "table": table.name, "file": file},
    )
    mended = [
        reject
        for reject, row_no, kept, more in found
        if any(number == row_no and _is_mended(json.loads(kept), now, 1 + more.count(file)) for number, now in rows)
    ]
    store.execute(
        "update rejects set settled_by = $intake::integer where list_contains($mended::integer[], reject)",
        {"intake": intake, "mended": mended},
    )
    return len(mended)


def _is_mended(kept: Mapping[str, str | None], now: Mapping[str, str | None], refused: int) -> bool:
    """Whether a row is an earlier one with no more cells changed than were refused."""
    shared = [name for name in kept if name in now and not name.startswith("reject")]
    differ = sum((kept[name] or "").strip() != (now[name] or "").strip() for name in shared)
    return differ <= refused and differ < len(shared)


def _default(table: Table, name: str) -> str:
    default = table.column(name.strip('"')).default
    return "null" if default is None else f"'{default}'"
