"""Sound rows into a table: new ones in, same ones counted, contradicting ones kept out or, if asked, put in place.

Two rows are compared only in the columns that the file bears: a file without a column says nothing about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from wearstats.domain.tables import Table
from wearstats.errors import counted
from wearstats.store.database.columns import StoreColumn, key_columns, store_columns
from wearstats.store.database.connection import Store
from wearstats.store.parsing.cells import CellProblem


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What became of the sound rows of one file.

    Parameters
    ----------
    accepted, duplicate : list of int
        Row identifiers; those retracted before stand among the duplicates.
    retracted : list of str
        What was retracted before, a line each intake.
    conflicts : dict
        Row identifier to what it contradicts.
    """

    accepted: list[int]
    duplicate: list[int]
    conflicts: dict[int, list[CellProblem]]
    retracted: tuple[str, ...] = ()


def merge_rows(
    store: Store,
    table: Table,
    values: pd.DataFrame,
    columns: Sequence[StoreColumn],
    *,
    intake: int,
    correct: bool,
    again: bool = False,
    sha256: str = "",
) -> Merged:
    """Bring rows into a table.

    Parameters
    ----------
    store : Store
        In a transaction.
    table : Table
        Not ``readings``, which go their own way.
    values : pandas.DataFrame
        The store's columns as texts, one row a row; the index is the rows' identifier.
    columns : sequence of StoreColumn
        Which columns.
    intake : int
        The number of the intake.
    correct : bool
        Whether a row with a known key and other values replaces the one in the store.
    again : bool
        Whether a row that was retracted comes in again.
    sha256 : str
        Of the file's content: the same file, once taken back, does not come in again either.
    """
    if values.empty:
        return Merged(accepted=[], duplicate=[], conflicts={})
    arriving = values.astype(object).where(values.notna(), None)
    arriving.insert(0, "row_id", values.index)
    casts = ", ".join(f"{_cast(column)} as {column.quoted}" for column in columns)
    with store.frame("arriving", arriving):
        store.execute(f"create or replace temp table staged as select row_id::integer as row_id, {casts} from arriving")
    gather_retracted(store, table, "gone", again=again, sha256=sha256)
    store.execute(_outcomes(table, columns, correct=correct))
    found = store.rows("select row_id, outcome from outcomes order by row_id")
    by_outcome: dict[str, list[int]] = {}
    for row, outcome in found:
        by_outcome.setdefault(outcome, []).append(row)
    conflicts = _conflicts(store, table, columns) if "conflict" in by_outcome else {}
    _insert(store, table, columns, intake=intake)
    if "corrected" in by_outcome:
        _replace(store, table, columns, intake=intake)
    accepted = sorted(by_outcome.get("accepted", []) + by_outcome.get("corrected", []))
    end_earlier(store, table, intake=intake)
    retracted = by_outcome.get("retracted", [])
    return Merged(
        accepted=accepted,
        duplicate=sorted(by_outcome.get("duplicate", []) + retracted),
        conflicts=conflicts,
        retracted=told_retracted(store, "outcomes") if retracted else (),
    )


def gather_retracted(store: Store, table: Table, name: str, *, again: bool, sha256: str) -> None:
    """Gather the rows of a table that were taken out and are not to come in again by themselves.

    Parameters
    ----------
    store : Store
        In a transaction.
    table : Table
        Which.
    name : str
        Of the temporary table that they are put into: the store's columns, ``intake`` and ``replaced_by``.
    again : bool
        Whether they may come in again; then there are none.
    sha256 : str
        Of the content that arrives: what a file of this very content brought and was taken back counts too.
    """
    key = ", ".join(column.quoted for column in key_columns(table))
    store.execute(
        f"create or replace temp table {name} as select * from history_{table.name} as old where not $again::boolean "
        "and replaced_by in (select intake from intakes where kind = 'retract' union all select taken.intake "
        "from intakes as taken join intake_files on intake_files.intake = taken.undoes "
        "where taken.kind = 'undo' and intake_files.content_sha256 = $sha256) "
        f"qualify row_number() over (partition by {key} order by replaced_by desc, intake desc) = 1",
        {"again": again, "sha256": sha256},
    )


def told_retracted(store: Store, outcomes: str) -> tuple[str, ...]:
    """Say what of a file was taken out before, and when, from a table of what became of its rows."""
    rows = store.rows(
        f"select count(*), intakes.added_on, intakes.intake from {outcomes} "
        "join intakes on intakes.intake = retracted_by where outcome = 'retracted' group by all order by 3"
    )
    return tuple(
        f"{counted(rows, 'row')} {'was' if rows == 1 else 'were'} retracted on {on} (intake {intake}) and counted as "
        "duplicate; with --again they come in"
        for rows, on, intake in rows
    )


def _cast(column: StoreColumn) -> str:
    text = f"{column.quoted}::varchar"
    return f"string_split({text}, ';')" if column.sql_type == "varchar[]" else f"{text}::{column.sql_type}"


def _same(one: str, other: str, columns: Sequence[StoreColumn]) -> str:
    compared = [f"{one}.{c.quoted} is not distinct from {other}.{c.quoted}" for c in columns if c.compared]
    return " and ".join(compared)


def _outcomes(table: Table, columns: Sequence[StoreColumn], *, correct: bool) -> str:
    """Write the statement that decides what becomes of each staged row.

    The first row of a key speaks for the file; later ones of that key are measured against it, and against the store
    where the store has the key and nothing is to be corrected.
    """
    key = ", ".join(column.quoted for column in key_columns(table))
    on_first = " and ".join(f"arrived.{c.quoted} = first.{c.quoted}" for c in key_columns(table))
    on_held = " and ".join(f"arrived.{c.quoted} = held.{c.quoted}" for c in key_columns(table))
    on_gone = " and ".join(f"arrived.{c.quoted} = gone.{c.quoted}" for c in key_columns(table))
    first_key = key_columns(table)[0].quoted
    gone = f"gone.{first_key} is not null and {_same('arrived', 'gone', columns)}"
    against_held = "true" if not correct else "arrived.row_id = first.row_id"
    return f"""
create or replace temp table outcomes as
with firsts as (select * from staged qualify row_number() over (partition by {key} order by row_id) = 1)
select
    arrived.row_id,
    case
        when held.{first_key} is null or not ({against_held}) then
            case
                when {gone} then 'retracted'
                when arrived.row_id = first.row_id then 'accepted'
                when {_same("arrived", "first", columns)} then 'duplicate'
                else 'conflict'
            end
        when {_same("arrived", "held", columns)} then 'duplicate'
        else '{"corrected" if correct else "conflict"}'
    end as outcome,
    held.{first_key} is not null and ({against_held}) as against_store,
    first.row_id as first_id,
    gone.replaced_by as retracted_by
from staged as arrived
join firsts as first on {on_first}
left join {table.name} as held on {on_held}
left join gone on {on_gone}
"""


def _insert(store: Store, table: Table, columns: Sequence[StoreColumn], *, intake: int) -> None:
    names = ", ".join(column.quoted for column in columns)
    taken = ", ".join(f"staged.{column.quoted}" for column in columns)
    store.execute(
        f"insert into {table.name} ({names}, intake) select {taken}, $intake::integer from staged "
        "join outcomes using (row_id) where outcomes.outcome = 'accepted' order by row_id",
        {"intake": intake},
    )


def _replace(store: Store, table: Table, columns: Sequence[StoreColumn], *, intake: int) -> None:
    """Put corrected rows in place; the old ones go to the history."""
    on = " and ".join(f"held.{c.quoted} = staged.{c.quoted}" for c in key_columns(table))
    names = ", ".join(column.quoted for column in store_columns(table))
    old = ", ".join(f"held.{column.quoted}" for column in store_columns(table))
    # by name: a column that came later stands behind those that every history has
    store.execute(
        f"insert into history_{table.name} ({names}, intake, replaced_by) "
        f"select {old}, held.intake, $intake::integer from {table.name} as held "
        f"join staged on {on} join outcomes using (row_id) where outcomes.outcome = 'corrected'",
        {"intake": intake},
    )
    changed = ", ".join(f"{c.quoted} = staged.{c.quoted}" for c in columns if c not in key_columns(table))
    store.execute(
        f"update {table.name} as held set {changed}{', ' if changed else ''}intake = $intake::integer from staged "
        f"join outcomes using (row_id) where outcomes.outcome = 'corrected' and {on}",
        {"intake": intake},
    )


def end_earlier(store: Store, table: Table, *, intake: int) -> None:
    """Let what an intake puts in place end older rows too that a later-known one had ended.

    What a first load or ``--history`` puts in place counts from its own date on, also before rows that it corrects, or
    brings back, were ended; on the days between, two rows of a key would be known.

    Parameters
    ----------
    store : Store
        In a transaction, the corrected rows in place and the old ones in the history.
    table : Table
        Any.
    intake : int
        The number of the intake.
    """
    on = " and ".join(f"held.{c.quoted} = old.{c.quoted}" for c in key_columns(table))
    store.execute(
        f"update history_{table.name} as old set replaced_by = $intake::integer from {table.name} as held "
        f"where held.intake = $intake::integer and {on} and old.replaced_by in ("
        "select later.intake from intakes as later join intakes as this on this.intake = $intake::integer "
        "where not later.bulk and (this.bulk or later.added_on > this.added_on))",
        {"intake": intake},
    )


def _conflicts(store: Store, table: Table, columns: Sequence[StoreColumn]) -> dict[int, list[CellProblem]]:
    """Say in which columns the rows kept out differ, and from what."""
    on = " and ".join(f"staged.{c.quoted} = held.{c.quoted}" for c in key_columns(table))
    compared = [column for column in columns if column.compared and column not in key_columns(table)]
    told = ", ".join(
        f"case when against_store then held.{c.quoted}::varchar else first.{c.quoted}::varchar end, "
        f"staged.{c.quoted}::varchar"
        for c in compared
    )
    rows = store.rows(
        f"select row_id, against_store, first_id, held.intake{', ' if told else ''}{told} from staged "
        f"join outcomes using (row_id) join staged as first on first.row_id = first_id "
        f"left join {table.name} as held on {on} where outcome = 'conflict' order by row_id"
    )
    conflicts = {}
    for row, against_store, _, intake, *cells in rows:
        where = f"the store, from intake {intake}, has" if against_store else "an earlier row of this intake has"
        step = "if this one is right, add it again with --correct" if against_store else "keep the right one"
        conflicts[row] = [
            CellProblem(
                column=column.source,
                found=f"{_told(new)} where {where} {_told(old)}",
                allowed="one row for each key",
                next_step=step,
            )
            for column, old, new in zip(compared, cells[::2], cells[1::2], strict=True)
            if old != new
        ]
    return conflicts


def _told(text: str | None) -> str:
    return "nothing" if text is None else f"'{text}'"
