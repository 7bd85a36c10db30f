"""Rows out of the tables and into the history, and back; the sums of readings follow.

What is to go stands in temporary tables of keys, ``going_<table>``, one for every table of the store; what goes but is
put back under the same key at once, so that nothing loses what it rests on, stands in ``staying_<table>``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wearstats.domain.references import REFERENCES, Reference
from wearstats.domain.tables import TABLE_BY_NAME, TABLES, Table
from wearstats.store.database.columns import StoreColumn, contract_text, key_columns, store_columns
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement

MOST_NAMED = 12
"""So many rows are told one by one."""


def on_key(one: str, other: str, table: Table) -> str:
    """Write the condition that two rows have the same key."""
    return " and ".join(f"{one}.{column.quoted} = {other}.{column.quoted}" for column in key_columns(table))


def listed(columns: Sequence[StoreColumn], relation: str = "") -> str:
    """Write column names one after the other, of a relation."""
    return ", ".join(f"{relation}.{column.quoted}" if relation else column.quoted for column in columns)


def begin_going(store: Store) -> None:
    """Make the tables of what is to go, empty."""
    for table in TABLES:
        for name in ("going", "staying"):
            store.execute(
                f"create or replace temp table {name}_{table.name} as select {listed(key_columns(table))} "
                f"from {table.name} limit 0"
            )


def go(store: Store, table: Table, condition: str, params: Mapping[str, object] | None = None) -> int:
    """Let rows of a table be among those to go.

    Parameters
    ----------
    store : Store
        After `begin_going`.
    table : Table
        Which table.
    condition : str
        Of the rows, which are called ``held``.
    params : dict, optional
        What the condition names.

    Returns
    -------
    int
        How many are new among them.
    """
    key = listed(key_columns(table), "held")
    there = f"(select * from going_{table.name} union all select * from staying_{table.name})"
    store.execute(
        f"create or replace temp table newly as select {key} from {table.name} as held where {condition} "
        f"and not exists (select 1 from {there} as going where {on_key('going', 'held', table)})",
        params,
    )
    store.execute(f"insert into going_{table.name} select * from newly")
    return int(store.value("select count(*) from newly"))


def go_with(store: Store) -> dict[str, int]:
    """Let go along what rests on rows that go; tables stand in an order in which what is named comes first.

    Returns
    -------
    dict
        Table to how many rows.
    """
    counts: dict[str, int] = {}
    for table in TABLES:
        for reference in REFERENCES:
            if reference.table == table.name and reference.rests:
                counts[table.name] = counts.get(table.name, 0) + go(store, table, names_going(reference))
    return {name: rows for name, rows in counts.items() if rows}


def names_going(reference: Reference) -> str:
    """Write the condition that a row ``held`` names one that goes."""
    parent = TABLE_BY_NAME[reference.parent]
    gone = f"select {key_columns(parent)[0].quoted} from going_{parent.name}"
    if reference.many:
        return f'list_has_any(held."{reference.column}", coalesce((select list(x) from ({gone}) as t(x)), []))'
    return f'held."{reference.column}" in ({gone})'


def mentions(store: Store) -> tuple[str, ...]:
    """Name the rows that stay and mention one that goes."""
    told = []
    for reference in REFERENCES:
        if reference.rests:
            continue
        table = TABLE_BY_NAME[reference.table]
        stays = f"not exists (select 1 from going_{table.name} as going where {on_key('going', 'held', table)})"
        told += [
            f"{place} still names {called(reference.parent)} {name} that is gone"
            for place, name in named_rows(
                store, table, f"{names_going(reference)} and {stays}", shown=contract_text(table)[reference.column]
            )
        ]
    advised = store.rows(
        "select distinct given_on, shaft from advice where list_has_any(inspections, "
        "coalesce((select list(inspection) from going_inspections), [])) order by 1, 2"
    )
    told += [f"the advice of {day} on shaft {shaft} rested on readings that are gone" for day, shaft in advised]
    return tuple(told)


def named_rows(store: Store, table: Table, condition: str, *, shown: str = "''") -> list[tuple[str, str]]:
    """Name some rows as messages do, each with one more text of it."""
    written = contract_text(table)
    key = ", ".join(f"coalesce({written[name]}, '')" for name in table.key)
    rows = store.rows(
        f"select concat_ws(', ', {key}), {shown} from {table.name} as held where {condition} order by 1 "
        f"limit {MOST_NAMED}"
    )
    return [(f"{called(table.name)} {place}", str(text)) for place, text in rows]


def called(table: str) -> str:
    """Give what one row of a table is called."""
    words = {
        "hub_spaces": "hub space",
        "batches": "batch",
        "dispatches": "dispatch",
        "undersizes_offered": "undersize offered",
    }
    return words.get(table, _spoken(table).removesuffix("s"))


def _spoken(table: str) -> str:
    return "follow-ups" if table == "follow_ups" else table.replace("_", " ")


def counted(table: str, rows: int) -> str:
    """Count the rows of a table in words."""
    return f"{rows} {called(table) if rows == 1 else _spoken(table)}"


def take_out(store: Store, table: Table, *, intake: int) -> int:
    """Move the rows of a table that go into its history; gives how many."""
    columns = store_columns(table)
    gone = f"exists (select 1 from going_{table.name} as going where {on_key('going', 'held', table)})"
    count = int(store.value(f"select count(*) from {table.name} as held where {gone}"))
    if count:
        store.execute(
            f"insert into history_{table.name} ({listed(columns)}, intake, replaced_by) "
            f"select {listed(columns, 'held')}, held.intake, $intake::integer from {table.name} as held where {gone}",
            {"intake": intake},
        )
        store.execute(f"delete from {table.name} as held where {gone}")
    return count


def put_back(store: Store, table: Table, condition: str, params: Mapping[str, object], *, intake: int) -> int:
    """Put rows of a table's history back, the newest of each key, as rows of an intake; gives how many.

    Parameters
    ----------
    condition : str
        Of the rows of the history, which are called ``old``.
    params : dict
        What the condition names.
    intake : int
        As whose rows.
    """
    columns = store_columns(table)
    key = listed(key_columns(table), "old")
    store.execute(
        f"create or replace temp table restored as select {listed(columns, 'old')} from history_{table.name} as old "
        f"where {condition} and not exists (select 1 from {table.name} as held where {on_key('held', 'old', table)}) "
        f"qualify row_number() over (partition by {key} order by old.intake desc) = 1",
        params,
    )
    store.execute(
        f"insert into {table.name} ({listed(columns)}, intake) select *, $intake::integer from restored",
        {"intake": intake},
    )
    return int(store.value("select count(*) from restored"))


def sum_anew(store: Store, *, intake: int) -> None:
    """Make anew the sums of the inspections whose readings, or whose own or gauge's row, an intake changed."""
    changed = ("history_{} where replaced_by = $intake::integer", "{} where intake = $intake::integer")
    touched = [
        f"select {name} from {place.format(table)}"
        for table, name in (("readings", "inspection"), ("inspections", "inspection"))
        for place in changed
    ] + [
        f"select inspection from inspections where gauge in (select gauge from {place.format('gauges')})"
        for place in changed
    ]
    store.execute(f"create or replace temp table touched_inspections as {' union '.join(touched)}", {"intake": intake})
    store.execute(
        "insert into reading_intakes (inspection, intake) select inspection, $intake::integer "
        "from touched_inspections where inspection in (select inspection from reading_intakes)",
        {"intake": intake},
    )
    for name in ("inspection_moments", "reading_counts"):
        store.execute(f"delete from {name} where inspection in (select inspection from touched_inspections)")
    for name in ("moments", "counts"):
        store.run(statement(f"sums/{name}", "intake"))
