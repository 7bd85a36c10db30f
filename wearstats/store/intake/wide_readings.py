"""Readings as on paper, a row a spline and a column a station, into long form; and the spaces of hubs likewise."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import replace

from wearstats.domain.tables import HUB_ENDS, STATIONS, TABLES
from wearstats.errors import InputError, Problem
from wearstats.store.database.connection import Store
from wearstats.store.intake.plausibility.sizes import PLAUSIBLE_SHARE
from wearstats.store.parsing.blocks import REJECT_COLUMNS
from wearstats.store.parsing.incoming import Incoming, renamed

_NOT_STATIONS = {column.name for table in TABLES for column in table.columns} | {*REJECT_COLUMNS}


def lengthened(store: Store, incoming: Incoming) -> Incoming:
    """Bring a file of readings into long form.

    Parameters
    ----------
    store : Store
        Holds the patterns, whose stations are looked for among the columns.
    incoming : Incoming
        Readings, long or as on paper.

    Returns
    -------
    Incoming
        The very same where it is long already. Blank cells are no readings; blank rows are no rows.

    Raises
    ------
    InputError
        When no column is a station, or one looks like a station whose name is not known.
    """
    if "width" in incoming.columns or "station" in incoming.columns:
        return _without_blank_rows(store, incoming)
    stations, notes = _station_columns(store, incoming)
    return replace(_long(store, incoming, stations, names=("station", "width")), notes=tuple(notes))


def spaces_lengthened(store: Store, incoming: Incoming) -> Incoming:
    """Bring the spaces of hubs, a row a space and a column an end, into long form: a row a width.

    Other tables, and spaces in long form, stay the very same. Blank cells are no widths.
    """
    ends = {name: incoming.columns[name] for name in HUB_ENDS if name in incoming.columns}
    if incoming.table.name != "hub_spaces" or not ends or {"end", "width_mm"} & {*incoming.columns}:
        return incoming
    return _long(store, incoming, ends, names=("end", "width_mm"))


def _long(store: Store, incoming: Incoming, stations: dict[str, str], *, names: tuple[str, str]) -> Incoming:
    """Make a row of each filled cell of some columns: the column's name and what stands there, called by two names."""
    kept = {name: held for name, held in incoming.columns.items() if held not in stations.values()}
    relation = f"{incoming.relation}_long"
    carried = "".join(f", {held}" for held in kept.values())
    parts = [
        f"select rowid as row_id, {incoming.row_number} as row_no, {at} as nth{carried}, "
        f"$s{at}::varchar as said_station, {held} as said_width from {incoming.relation} "
        f"where trim(coalesce({held}, '')) <> ''"
        for at, held in enumerate(stations.values())
    ]
    store.execute(
        f"create or replace temp table {relation} as select * exclude (row_id, nth) from ({' union all '.join(parts)}) "
        "order by row_id, nth",
        {f"s{at}": name for at, name in enumerate(stations)},
    )
    columns = kept | dict(zip(names, ("said_station", "said_width"), strict=True))
    return renamed(incoming, relation=relation, columns=columns, row_number="row_no")


def _station_columns(store: Store, incoming: Incoming) -> tuple[dict[str, str], list[str]]:
    """Find the columns that are stations of any pattern, and what to tell of other columns that hold numbers only."""
    rows = store.rows("select distinct unnest(stations) from patterns")
    known = {name.lower(): name for name in (*STATIONS, *(str(row[0]) for row in rows))}
    found = {known[name.lower()]: held for name, held in incoming.columns.items() if name.lower() in known}
    if not found:
        raise InputError(
            Problem(
                place=incoming.file,
                found=f"none of the columns {', '.join(incoming.columns)} is a station",
                allowed=f"columns station and width, or one for each station: {', '.join(known.values())}",
                next_step="name the columns after the stations",
            )
        )
    middle = _middle(store, incoming, found.values())
    problems, notes = [], []
    for name, held in incoming.columns.items():
        if name in _NOT_STATIONS or name in incoming.said or name.lower() in known:
            continue
        if not _all_numbers(store, incoming, held):
            continue
        near = difflib.get_close_matches(name.lower(), known, n=1)
        if near or _alike(_middle(store, incoming, [held]), middle):
            problems.append(
                Problem(
                    place=f"{incoming.file}, {name}",
                    found=f"holds numbers like readings, but '{name}' is no station",
                    allowed=", ".join(known.values()),
                    next_step=f"did you mean {known[near[0]]}?" if near else "correct its name, or take the column out",
                )
            )
        else:
            notes.append(
                f"{incoming.file}, {name}: is no station, so its numbers were kept as remarks, not as readings"
            )
    if problems:
        raise InputError(problems)
    return found, notes


def _all_numbers(store: Store, incoming: Incoming, held: str) -> bool:
    """Whether a column holds numbers only: a station with a misspelt name must be refused, not kept as a note."""
    numbers = store.value(
        f"select bool_and(regexp_full_match(trim({held}), '[0-9]+([.,][0-9]+)?')) from {incoming.relation} "
        f"where trim(coalesce({held}, '')) <> ''"
    )
    return numbers is True


def _middle(store: Store, incoming: Incoming, columns: Iterable[str]) -> float | None:
    """Give the median of the numbers in some columns; None where there is none."""
    listed = ", ".join(columns)
    value = store.value(
        f"select median(try_cast(replace(trim(text), ',', '.') as double)) "
        f"from (select unnest([{listed}]) as text from {incoming.relation})"
    )
    return None if value is None else float(value)


def _alike(one: float | None, other: float | None) -> bool:
    """Whether two medians may be sizes of the same spline; judgement, as for a single size."""
    share = float(PLAUSIBLE_SHARE)
    return one is not None and other is not None and abs(one - other) <= share * other


def _without_blank_rows(store: Store, incoming: Incoming) -> Incoming:
    """Take out rows without anything in them, which spreadsheets leave at the end."""
    blank = " and ".join(f"coalesce({held}, '') = ''" for held in incoming.columns.values())
    if not store.rows(f"select 1 from {incoming.relation} where {blank} limit 1"):
        return incoming
    relation = f"{incoming.relation}_filled"
    store.execute(
        f"create or replace temp table {relation} as select {incoming.row_number} as row_no, "
        f"{', '.join(incoming.columns.values())} from {incoming.relation} where not ({blank}) order by rowid"
    )
    return renamed(incoming, relation=relation, columns=incoming.columns, row_number="row_no")
