"""Rows that carry more than their own table: an owner's sheet names its shaft, gauge and inspection in the same line.

Where a file bears every column that another table requires, that table's rows are made from it, once each. What was
said above all rows and belongs to no table, such as a remark, is kept beside the inspection.
"""

from __future__ import annotations

from dataclasses import replace

from wearstats.domain.tables import TABLE_BY_NAME, Table
from wearstats.store.database.connection import Store
from wearstats.store.intake.generated_keys import MADE
from wearstats.store.parsing.blocks import NAMED_BY
from wearstats.store.parsing.incoming import Incoming
from wearstats.store.parsing.staging import Staging

PARENTS = tuple(TABLE_BY_NAME[name] for name in ("patterns", "gauges", "shafts", "inspections", "batches", "hubs"))
"""Tables whose rows may be carried by others, those first that others name."""


def stage_carried(staging: Staging) -> None:
    """Stage the rows of other tables that the staged files carry."""
    for place, arrived in enumerate(list(staging.staged)):
        incoming = staging.staged[place] = replace(arrived, lacking=_lacking(arrived))
        taken: set[str] = set()
        for parent in PARENTS:
            if _carries(incoming, parent):
                taken |= {column.name for column in parent.columns} | set(_noted(incoming, parent))
                staging.keep(_carried(staging.store, incoming, parent, relation=staging.next_relation()))
        if taken:
            own = {column.name for column in incoming.table.columns}
            _replace(staging, incoming, {n: c for n, c in incoming.columns.items() if n in own or n not in taken})


def _carries(incoming: Incoming, parent: Table) -> bool:
    """Whether a file bears every required column of another table, and at least one that it needs for nothing else."""
    own = {column.name for column in incoming.table.columns}
    required = set(parent.required)
    return parent is not incoming.table and required <= set(incoming.columns) and not required <= own


def _lacking(incoming: Incoming) -> tuple[str, ...]:
    """List what an owner's sheet does not say, and would have to for its inspection to be made."""
    if incoming.table.name != "readings" or incoming.columns.get("inspection") != MADE["inspection"]:
        return ()
    wanted = [
        part
        for name in TABLE_BY_NAME["inspections"].required
        for part in (NAMED_BY["gauge"] if name == "gauge" and name not in incoming.columns else (name,))
    ]
    return tuple(dict.fromkeys(name for name in wanted if name not in incoming.columns))


def _noted(incoming: Incoming, parent: Table) -> list[str]:
    """List what was said above the rows and is kept as a note on this parent."""
    return [name for name in incoming.extra if name in incoming.said and parent.name == "inspections" and _free(name)]


def _free(name: str) -> bool:
    """Whether no parent has such a column."""
    return all(column.name != name for parent in PARENTS for column in parent.columns)


def _carried(store: Store, incoming: Incoming, parent: Table, *, relation: str) -> Incoming:
    """Stage the different rows of another table that a file carries, each with the number of its first row."""
    borne = [column.name for column in parent.columns if column.name in incoming.columns] + _noted(incoming, parent)
    named = ", ".join(f"{incoming.columns[name]} as c{place}" for place, name in enumerate(borne))
    key = " and ".join(f"trim(coalesce({incoming.columns[name]}, '')) <> ''" for name in parent.key)
    store.execute(
        f"create temp table {relation} as select min({incoming.row_number})::integer as row_no, {named} "
        f"from {incoming.relation} where {key} group by all having row_no is not null order by row_no"
    )
    return Incoming(
        file=incoming.file,
        table=parent,
        relation=relation,
        row_number="row_no",
        columns={name: f"c{place}" for place, name in enumerate(borne)},
        sha256=incoming.sha256,
        semicolons=incoming.semicolons,
    )


def _replace(staging: Staging, incoming: Incoming, columns: dict[str, str]) -> None:
    """Take the carried columns out of what is kept as notes."""
    place = staging.staged.index(incoming)
    staging.staged[place] = replace(incoming, columns=columns)
