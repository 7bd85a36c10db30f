"""Patterns that need not be typed: those of the open standard by their designation, and the only one on record.

A cell such as ``8x36x40`` or ``ISO 14 8 x 36 x 40`` makes its row of patterns where none of that name is on record; a
missing cell is filled where the store knows one pattern only.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace

from wearstats.domain.examples import example_lines
from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.domain.tolerances.standard_splines import ISO_14, designation_of, iso_14, pattern_sizes
from wearstats.errors import InputError, Problem, counted
from wearstats.store.names.engines import fill_by_engine
from wearstats.store.parsing.blocks import missing_columns
from wearstats.store.parsing.incoming import Incoming
from wearstats.store.parsing.staging import Staging

STANDARD = "ISO 14"
"""Where rows of patterns come from that nobody typed, as reports name it."""

_PATTERNS = TABLE_BY_NAME["patterns"]
_SIZES = ("splines", "width_mm", "minor_mm", "major_mm")


def settle_patterns(staging: Staging) -> None:
    """Make the patterns that staged rows name by a standard's designation, and fill in the only one there is."""
    for place, incoming in enumerate(list(staging.staged)):
        if incoming.table is _PATTERNS:
            _complete(staging, place)
    known = _on_record(staging)
    for place, incoming in enumerate(list(staging.staged)):
        if not _brings_patterns(incoming) and "pattern" in incoming.columns:
            _take_standard(staging, place, known)
    for place in range(len(staging.staged)):
        _fill_by_engine(staging, place)
    only = next(iter(known)) if len(known) == 1 else None
    for place, incoming in enumerate(list(staging.staged)):
        needs = "pattern" in incoming.table.required and incoming.table is not _PATTERNS
        sheet = incoming.table.name == "readings" and only is not None
        if needs or (sheet and _names_unknown_shafts(staging, incoming)):
            _fill(staging, place, only, known)


def _complete(staging: Staging, place: int) -> None:
    """Fill in the sizes of rows of patterns that bear a standard's designation; sizes that are typed stay."""
    incoming = staging.staged[place]
    columns = dict(incoming.columns)
    lacking = [name for name in _PATTERNS.required if name not in columns]
    standard: dict[str, dict[str, float]] = {}
    for text in _texts(staging, incoming):
        name = designation_of(text)
        if name in ISO_14:
            standard[text] = pattern_sizes(ISO_14[name])
    if lacking and not standard:
        staging.problems += missing_columns(_PATTERNS, list(columns), place=incoming.file)
        return
    for name in lacking:
        columns[name] = f"standard_{name}"
        staging.store.execute(f"alter table {incoming.relation} add column {columns[name]} varchar")
    for text, sizes in standard.items():
        for name, size in sizes.items():
            held = columns[name]
            filled = staging.store.rows(
                f"update {incoming.relation} set {held} = $size where trim({columns['pattern']}) = $text "
                f"and trim(coalesce({held}, '')) = '' returning 1",
                {"size": f"{size:g}", "text": text},
            )
            if filled and name == "splines":
                staging.notes.append(f"{incoming.file}: {text} has the sizes of {STANDARD}; {_told(sizes)}")
    staging.staged[place] = replace(incoming, columns=columns)


def _told(sizes: Mapping[str, float]) -> str:
    """Say which sizes were taken from the standard, and what was taken for granted."""
    mm = {name: f"{size:g}" for name, size in sizes.items()}
    return (
        f"{mm['splines']} splines, new width {mm['width_mm']} mm, standard space {mm['space_width_mm']} mm "
        f"(the middle of H9), {mm['minor_mm']} to {mm['major_mm']} mm, engaged over {mm['engaged_mm']} mm (assumed, "
        "as long as the minor diameter); where yours differ, add a row of patterns with --correct"
    )


def _brings_patterns(incoming: Incoming) -> bool:
    """Whether rows are patterns, or carry those with all that must be known of them."""
    return incoming.table is _PATTERNS or {*_PATTERNS.required} <= {*incoming.columns}


def _on_record(staging: Staging) -> dict[str, tuple[float, ...] | None]:
    """Give the patterns of the store, and of the files being added, with their sizes where the store has them."""
    rows = staging.store.rows(f"select pattern, {', '.join(_SIZES)} from patterns order by pattern")
    known: dict[str, tuple[float, ...] | None] = {str(row[0]): tuple(map(float, row[1:])) for row in rows}
    for incoming in staging.staged:
        if _brings_patterns(incoming):
            known |= {text: known.get(text) for text in _texts(staging, incoming)}
    return known


def _texts(staging: Staging, incoming: Incoming) -> list[str]:
    """List the different patterns that staged rows name, in the order of their names."""
    held = incoming.columns["pattern"]
    rows = staging.store.rows(
        f"select distinct trim({held}) from {incoming.relation} where trim({held}) <> '' order by 1"
    )
    return [str(row[0]) for row in rows]


def _take_standard(staging: Staging, place: int, known: dict[str, tuple[float, ...] | None]) -> None:
    """Turn designations into names on record, making the row of patterns where there is none yet."""
    incoming = staging.staged[place]
    engaged = incoming.columns.get("engaged_mm")
    for text in _texts(staging, incoming):
        name = designation_of(text)
        if text in known or name is None:
            continue
        if name not in known:
            try:
                sizes = pattern_sizes(iso_14(name))
            except InputError as refused:
                (problem,) = refused.problems
                staging.notes.append(
                    f"{incoming.file}, pattern: '{text}' is not on record and {STANDARD} has no such size "
                    f"({problem.allowed}): add its row of patterns, or correct it"
                )
                continue
            alike = [held for held, its in known.items() if its == tuple(sizes[size] for size in _SIZES)]
            if len(alike) == 1:
                name = alike[0]
                staging.notes.append(f"{incoming.file}, pattern: '{text}' was taken for {name}, which has these sizes")
            else:
                length = None if engaged is None else _first(staging, incoming, engaged, text)
                _make(staging, name, sizes, length)
                known[name] = tuple(sizes[size] for size in _SIZES)
        held = incoming.columns["pattern"]
        staging.store.execute(
            f"update {incoming.relation} set {held} = $name where trim({held}) = $text", {"name": name, "text": text}
        )
    if engaged is not None:
        columns = {column: held for column, held in incoming.columns.items() if column != "engaged_mm"}
        staging.staged[place] = replace(incoming, columns=columns)


def _first(staging: Staging, incoming: Incoming, held: str, pattern: str) -> str | None:
    """Give the first text of a column beside a pattern; None where nothing stands there."""
    found = staging.store.rows(
        f"select trim({held}) from {incoming.relation} where trim({incoming.columns['pattern']}) = $pattern "
        f"and trim(coalesce({held}, '')) <> '' order by rowid limit 1",
        {"pattern": pattern},
    )
    return str(found[0][0]) if found else None


def _make(staging: Staging, name: str, sizes: dict[str, float], engaged: str | None) -> None:
    """Stage the row of patterns of a standard size, and say what it holds."""
    texts = {"pattern": name, **{column: f"{size:g}" for column, size in sizes.items()}}
    texts |= {} if engaged is None else {"engaged_mm": engaged}
    relation = staging.next_relation()
    named = ", ".join(f"$v{at}::varchar as c{at}" for at in range(len(texts)))
    params = {f"v{at}": text for at, text in enumerate(texts.values())}
    staging.store.execute(f"create temp table {relation} as select {named}", params)
    staging.keep(
        Incoming(
            file=STANDARD,
            table=_PATTERNS,
            relation=relation,
            row_number="rowid + 2",
            columns={column: f"c{at}" for at, column in enumerate(texts)},
            sha256=hashlib.sha256(repr(texts).encode()).hexdigest(),
        )
    )
    staging.notes.append(f"pattern {name} was made from {STANDARD}: {_told(sizes)}")


def _names_unknown_shafts(staging: Staging, incoming: Incoming) -> bool:
    """Whether an owner's sheet names a shaft, without its pattern, that neither the store nor another file has."""
    if "shaft" not in incoming.columns or "pattern" in incoming.columns:
        return False
    brought = "".join(
        f" union all select trim({other.columns['shaft']}) from {other.relation}"
        for other in staging.staged
        if other.table.name == "shafts" and "shaft" in other.columns
    )
    held = incoming.columns["shaft"]
    return bool(
        staging.store.rows(
            f"select 1 from {incoming.relation} where trim(coalesce({held}, '')) <> '' and trim({held}) not in "
            f"(select shaft from shafts{brought}) limit 1"
        )
    )


def _fill_by_engine(staging: Staging, place: int) -> None:
    """Fill a missing pattern in where an engine is named whose type takes one, as far as the shop has said so."""
    incoming = staging.staged[place]
    if "engine" not in incoming.columns or incoming.table.name not in ("shafts", "orders", "readings"):
        return
    columns = dict(incoming.columns)
    held = columns.setdefault("pattern", "engine_pattern")
    if held == "engine_pattern":
        staging.store.execute(f"alter table {incoming.relation} add column engine_pattern varchar")
    staging.notes += fill_by_engine(staging.store, incoming, held)
    found = staging.store.value(f"select count(*) from {incoming.relation} where trim(coalesce({held}, '')) <> ''")
    if held != "engine_pattern" or found:
        staging.staged[place] = replace(incoming, columns=columns)


def _fill(staging: Staging, place: int, only: str | None, known: dict[str, tuple[float, ...] | None]) -> None:
    """Fill a missing pattern in where there is but one; else the missing column is a problem."""
    incoming = staging.staged[place]
    columns = dict(incoming.columns)
    if "pattern" not in columns:
        if only is None:
            staging.problems.append(_missing(incoming, known))
            return
        columns["pattern"] = "only_pattern"
        staging.store.execute(f"alter table {incoming.relation} add column only_pattern varchar")
    if only is None:
        return
    held = columns["pattern"]
    there = " or ".join(f"trim(coalesce({other}, '')) <> ''" for other in columns.values() if other != held)
    filled = staging.store.rows(
        f"update {incoming.relation} set {held} = $only where trim(coalesce({held}, '')) = '' "
        f"and ({there or 'false'}) returning 1",
        {"only": only},
    )
    if filled:
        rows = counted(len(filled), "row")
        staging.notes.append(f"{incoming.file}: {rows} without a pattern taken for {only}, the only one on record")
    staging.staged[place] = replace(incoming, columns=columns)


def _missing(incoming: Incoming, known: dict[str, tuple[float, ...] | None]) -> Problem:
    """Say that the pattern is missing, and which there are."""
    here = f"one of {', '.join(list(known)[:20])}" if known else "a size of ISO 14, such as 8x36x40"
    return Problem(
        place=f"{incoming.file}, pattern",
        found=f"column pattern missing; there are {', '.join(incoming.columns)}",
        allowed=here,
        next_step="add the column; it may be left out only where one pattern is on record",
        example=example_lines(incoming.table),
    )
