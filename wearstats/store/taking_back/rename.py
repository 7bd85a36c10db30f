"""A shaft, hub or measurer gets another name, or two of them turn out to be the same one.

The rows under the old name go to the history and stand again under the other; the old name stands for it from then on.
"""

from __future__ import annotations

import datetime
from typing import Final

from wearstats.domain.tables import TABLE_BY_NAME, Table
from wearstats.errors import InputError, Problem, UsageError
from wearstats.store.database.columns import contract_text, key_columns, store_columns
from wearstats.store.database.connection import Store
from wearstats.store.database.intakes import IntakeKind, begin_intake
from wearstats.store.names.aliases import begin_alias
from wearstats.store.taking_back.report import TakenBack
from wearstats.store.taking_back.rows import begin_going, called, go, listed, on_key, sum_anew, take_out

KINDS: Final = {"shafts": "shaft", "hubs": "hub", "measurers": "measured_by"}
"""What can be named anew, and the column that names it."""
_PLACES: Final = {
    "shaft": (
        "shafts",
        "shaft_events",
        "inspections",
        "check_piece_loans",
        "dispatches",
        "fittings",
        "photos",
        "orders",
    ),
    "hub": ("hubs", "hub_spaces", "dispatches", "fittings", "returns"),
    "measured_by": ("inspections",),
    "gauge": ("gauges", "inspections", "hub_spaces"),
}
"""The tables in which a name stands, the one that has a row of it first."""
_MUST_AGREE: Final = {
    "shafts": ("pattern",),
    "hubs": ("pattern", "undersize_um"),
    "gauges": ("kind", "unit", "resolution"),
}
"""What two of the same name cannot differ in."""


def rename(store: Store, kind: str, old: str, new: str, *, on: datetime.date, because: str | None = None) -> TakenBack:
    """Give a shaft, hub or measurer a name that nothing has yet.

    Parameters
    ----------
    store : Store
        Open for writing.
    kind : str
        One of `KINDS`.
    old, new : str
        The names.
    on : datetime.date
        The day from which it is so.
    because : str, optional
        Why.

    Raises
    ------
    UsageError
        When there is nothing of the old name, or something of the new one.
    """
    column = _column(kind)
    new = new.strip()
    if not new or any(sign in new for sign in "\n\r\t;"):
        raise UsageError(f"NEW: {new!r} is no name; allowed: letters, figures and blanks on one line, without ;")
    _refuse_unknown(store, column, old)
    if _known(store, column, new):
        raise UsageError(
            f"NEW: there is {called(kind)} {new} already; if both are the same one: wearstats store merge {kind} "
            f"{_quoted(old)} {_quoted(new)}"
        )
    return _change(store, "rename", column, old, new, on=on, because=because)


def merge(store: Store, kind: str, name: str, into: str, *, on: datetime.date, because: str | None = None) -> TakenBack:
    """State that two names mean the same shaft, hub or measurer.

    Parameters
    ----------
    store, kind, on, because
        As for `rename`.
    name, into : str
        The name that goes, and the one that stays.

    Raises
    ------
    UsageError
        When one of the names is not there.
    InputError
        When they cannot be the same: of different patterns or sizes, or with rows that contradict each other.
    """
    column = _column(kind)
    for known in (name, into):
        _refuse_unknown(store, column, known)
    if name == into:
        raise UsageError(f"INTO: {into} is the same name; name two that mean the same {called(kind)}")
    _refuse_different(store, kind, name, into)
    return _change(store, "merge", column, name, into, on=on, because=because)


def _column(kind: str) -> str:
    wanted = next((name for name in KINDS if kind in (name, called(name))), None)
    if wanted is None:
        raise UsageError(f"KIND: {kind!r} cannot be named anew; allowed: {', '.join(KINDS)}")
    return KINDS[wanted]


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _known(store: Store, column: str, name: str) -> bool:
    found = " or ".join(f'exists (select 1 from {table} where "{column}" = $name)' for table in _PLACES[column])
    return bool(store.value(f"select {found}", {"name": name}))


def _refuse_unknown(store: Store, column: str, name: str) -> None:
    if _known(store, column, name):
        return
    stands_for = store.value(
        "select stands_for from aliases where kind = $kind and name = $name and ended_by is null",
        {"kind": column, "name": name},
    )
    if stands_for is not None:
        raise UsageError(f"NAME: {name} stands for {stands_for} already")
    near = store.rows(
        f'select distinct "{column}" from {_PLACES[column][0]} where lower(trim("{column}")) = lower(trim($name)) '
        f'or levenshtein(lower("{column}"), lower($name)) < 2 order by 1 limit 5',
        {"name": name},
    )
    hint = f"; near it are: {', '.join(str(text) for (text,) in near)}" if near else ""
    raise UsageError(f"NAME: {name!r} is not on record{hint}; wearstats store info --names lists the names")


def _refuse_different(store: Store, kind: str, name: str, into: str) -> None:
    """Refuse to take two for the same that cannot be."""
    table = TABLE_BY_NAME.get(kind if kind in TABLE_BY_NAME else f"{kind}s")
    if table is None or table.name not in _MUST_AGREE:
        return
    written = contract_text(table)
    key = key_columns(table)[0].quoted
    for column in _MUST_AGREE[table.name]:
        rows = dict(
            store.rows(
                f"select {key}, {written[column]} from {table.name} where {key} in ($name, $into)",
                {"name": name, "into": into},
            )
        )
        if len(rows) == 2 and rows[name] != rows[into]:
            raise InputError(
                Problem(
                    place=f"{called(table.name)} {name}",
                    found=f"its {column} is {rows[name]}, that of {into} is {rows[into]}",
                    allowed=f"two of the same {column}",
                    next_step="correct the wrong one first with: wearstats store add --correct",
                )
            )


def _change(
    store: Store, kind: IntakeKind, column: str, old: str, new: str, *, on: datetime.date, because: str | None
) -> TakenBack:
    """Move all rows of a name to another, in one intake."""
    with store.transaction():
        number = begin_intake(store, on=on, kind=kind, because=because)
        out: dict[str, int] = {}
        back: dict[str, int] = {}
        _move(store, column, old, new, number, out, back)
        begin_alias(store, column, old, new, intake=number)
        if column == "measured_by":
            _move_gauges(store, old, new, number, out, back)
        if column in ("shaft", "measured_by"):
            _alias_inspections(store, column, old, new, intake=number)
        sum_anew(store, intake=number)
    return TakenBack(
        intake=number,
        kind=kind,
        out={name: rows for name, rows in out.items() if rows},
        back={name: rows for name, rows in back.items() if rows},
    )


def _move(
    store: Store, column: str, old: str, new: str, intake: int, out: dict[str, int], back: dict[str, int]
) -> None:
    """Put the rows of every table that bear a name under another."""
    begin_going(store)
    named = {"old": old}
    for name in _PLACES[column]:
        table = TABLE_BY_NAME[name]
        go(store, table, f'held."{column}" = $old', named)
        columns = store_columns(table)
        moved = ", ".join(f"$new as {c.quoted}" if c.name == column else f"held.{c.quoted}" for c in columns)
        store.execute(
            f'create or replace temp table moving as select {moved} from {name} as held where held."{column}" = $old',
            {"old": old, "new": new},
        )
        if column in table.key:
            _settle_clashes(store, table, column, old, new, fill=name == _PLACES[column][0])
        out[name] = out.get(name, 0) + take_out(store, table, intake=intake)
        store.execute(
            f"insert into {name} ({listed(columns)}, intake) select *, $intake::integer from moving", {"intake": intake}
        )
        back[name] = back.get(name, 0) + int(store.value("select count(*) from moving"))


def _settle_clashes(store: Store, table: Table, column: str, old: str, new: str, *, fill: bool) -> None:
    """Let rows go whose key is there under the other name too: the same ones, or of what is named itself, filled up."""
    columns = [c for c in store_columns(table) if c.compared and c not in key_columns(table)]
    there = f"exists (select 1 from {table.name} as held where {on_key('held', 'moving', table)})"
    if fill:
        keys = key_columns(table)
        filled = ", ".join(
            f"held.{c.quoted}" if c in keys else f"coalesce(held.{c.quoted}, moving.{c.quoted}) as {c.quoted}"
            for c in store_columns(table)
        )
        store.execute(
            f"create or replace temp table filled as select {filled} from moving join {table.name} as held "
            f"on {on_key('held', 'moving', table)}"
        )
        differs = " or ".join(f"held.{c.quoted} is distinct from filled.{c.quoted}" for c in columns) or "false"
        go(store, table, f"exists (select 1 from filled where {on_key('filled', 'held', table)} and ({differs}))")
        store.execute(f"delete from moving where {there}")
        store.execute(
            f"insert into moving select filled.* from filled join going_{table.name} as going "
            f"on {on_key('going', 'filled', table)}"
        )
        return
    same = " and ".join(f"held.{c.quoted} is not distinct from moving.{c.quoted}" for c in columns) or "true"
    written = contract_text(table)
    rest = [name for name in table.key if name != column]
    clashing = store.rows(
        f"select concat_ws(' ', {', '.join(f'moving.{written[name]}' for name in rest) or repr('')}) from moving "
        f"join {table.name} as held on {on_key('held', 'moving', table)} where not ({same}) order by 1"
    )
    if clashing:
        raise InputError(
            [
                Problem(
                    place=f"{called(table.name)} {place}",
                    found=f"{old} and {new} both have one of that key, with other values",
                    allowed="one row for each key",
                    next_step="retract or correct the wrong one first",
                )
                for (place,) in clashing
            ]
        )
    store.execute(f"delete from moving where {there}")


def _move_gauges(store: Store, old: str, new: str, intake: int, out: dict[str, int], back: dict[str, int]) -> None:
    """Let gauges that were named after the measurer be named after the other, or be the same as the other's."""
    rows = store.rows(
        "select gauge, $new || substr(gauge, length($old) + 1) from gauges "
        "where gauge = concat_ws(' ', $old, kind, regexp_extract(gauge, '([^ ]+ [^ ]+)$', 1))",
        {"old": old, "new": new},
    )
    for gauge, other in rows:
        if _known(store, "gauge", other):
            _refuse_different(store, "gauges", gauge, other)
        _move(store, "gauge", gauge, other, intake, out, back)
        begin_alias(store, "gauge", gauge, other, intake=intake)


def _alias_inspections(store: Store, column: str, old: str, new: str, *, intake: int) -> None:
    """Let the names that intake would now make of a shaft, day and measurer stand for those it made before."""
    before = {"shaft": "shaft", "measured_by": "measured_by"} | {column: "$old"}
    made = "concat_ws(' ', {shaft}, measured_on::varchar, {measured_by})"
    rows = store.rows(
        f"select inspection, {made.format(shaft='shaft', measured_by='measured_by')} || "
        f"substr(inspection, length({made.format(**before)}) + 1) from inspections "
        f'where "{column}" = $new and intake = $intake::integer and starts_with(inspection, {made.format(**before)})',
        {"old": old, "new": new, "intake": intake},
    )
    for inspection, other in rows:
        if inspection != other and not store.value(
            "select count(*) from inspections where inspection = $other", {"other": other}
        ):
            begin_alias(store, "inspection", other, inspection, intake=intake)
