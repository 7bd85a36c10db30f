"""One staged file into its table: read, check, merge, and write down what was kept out and what was noted beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

import pandas as pd

from wearstats.domain.examples import example_of
from wearstats.domain.tables import TABLE_BY_NAME, Table
from wearstats.domain.typed import DecimalMark, TypedValueError, quoted
from wearstats.errors import counted
from wearstats.store.database.columns import contract_text, key_columns, key_json
from wearstats.store.database.connection import Store
from wearstats.store.intake.merge import merge_rows
from wearstats.store.intake.plausibility.rows import impossible_rows
from wearstats.store.intake.readings import take_readings
from wearstats.store.intake.wide_readings import lengthened, spaces_lengthened
from wearstats.store.kept_out.rows import (
    KeptOut,
    as_problem,
    keep_out,
    keep_out_relation,
    mended_places,
    settle,
    settle_places,
)
from wearstats.store.parsing.cells import (
    NUMERIC_KINDS,
    UNPRINTABLE,
    CellProblem,
    cleaned,
    file_decimal_mark,
    read_rows,
    refuse_unprintable,
)
from wearstats.store.parsing.incoming import Incoming, Ragged

_UNPRINTABLE_SQL = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x{9f}\x{fffe}\x{ffff}]"
"""`UNPRINTABLE` as SQL has it, where no text has halves of characters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What became of one file's rows; see `wearstats.store.intake.add.FileReport`."""

    read: int
    accepted: int
    duplicate: int
    conflict: int
    rejected: int
    settled: int
    problems: tuple[str, ...]
    notes: tuple[str, ...] = ()


def load_rows(store: Store, incoming: Incoming, *, intake: int, correct: bool, again: bool, most_told: int) -> Loaded:
    """Bring one file's rows into any table but ``readings``."""
    table = incoming.table
    incoming = spaces_lengthened(store, incoming)
    rows = _staged_rows(store, incoming)
    frame = rows[[name for name in incoming.columns if name not in incoming.extra]]
    mark = file_decimal_mark(table, frame, semicolons=incoming.semicolons)
    whole = _filled_up(store, table, frame, mark=mark) if correct else frame
    read = read_rows(table, whole, decimal_mark=mark)
    problems = {**_unprintable_extras(incoming, rows), **read.problems}
    sound = read.cells.drop(index=list(problems))
    impossible = impossible_rows(store, table, sound, mark=mark)
    problems |= impossible
    sound = sound.drop(index=list(impossible))
    merged = merge_rows(
        store, table, sound, read.columns, intake=intake, correct=correct, again=again, sha256=incoming.sha256
    )
    kept_out = [
        KeptOut(
            row=int(cells.pop("row_no")),
            outcome="conflict" if row in merged.conflicts else "rejected",
            problems=found,
            cells={str(name): text for name, text in cells.items()},
        )
        for row, found in sorted({**problems, **merged.conflicts}.items())
        for cells in [rows.loc[row].to_dict()]
    ] + _ragged_rows(incoming)
    keep_out(store, table, kept_out, intake=intake, file=incoming.file)
    taken = rows.loc[merged.accepted + merged.duplicate]
    _note_extras(store, incoming, taken, sound, intake=intake)
    return Loaded(
        read=len(rows) + len(incoming.ragged),
        accepted=len(merged.accepted),
        duplicate=len(merged.duplicate),
        conflict=len(merged.conflicts),
        rejected=len(problems) + len(incoming.ragged),
        settled=settle(store, table, intake=intake, numbers=_reject_numbers(taken))
        + _settle_places(store, incoming, taken, intake=intake),
        problems=_told(table, incoming.file, kept_out, most=most_told),
        notes=tuple(f"{incoming.file}, {table.name}: {told}" for told in merged.retracted),
    )


def _told(table: Table, file: str, kept_out: Sequence[KeptOut], *, most: int) -> tuple[str, ...]:
    """Say what is wrong, each thing once, with the first of its rows and how many there are."""
    rows: dict[tuple[str, CellProblem], list[int]] = {}
    for kept in kept_out:
        for problem in kept.problems:
            rows.setdefault((kept.outcome, problem), []).append(kept.row)
    return tuple(
        str(as_problem(table, file, found[0], problem, outcome=outcome))
        + (f"; so it is with {len(found)} rows" if len(found) > 1 else "")
        for (outcome, problem), found in islice(rows.items(), most)
    )


def load_readings(
    store: Store, incoming: Incoming, *, intake: int, correct: bool, again: bool, most_told: int
) -> Loaded:
    """Bring one file's readings in, long or as on paper."""
    table = incoming.table
    long = lengthened(store, incoming)
    # several sheets of one message bear the same name: only what this one kept out is told here
    told_before = int(store.value("select coalesce(max(reject), 0) from rejects"))
    taken = take_readings(store, long, intake=intake, correct=correct, again=again)
    on_paper = long is not incoming
    _keep_readings_out(store, long, intake=intake, on_paper=on_paper)
    keep_out(store, table, _ragged_rows(incoming), intake=intake, file=incoming.file)
    left_out = _note_reading_extras(store, long, intake=intake)
    told = store.rows(
        "select min(row_no), outcome, coalesce(column_name, ''), found, allowed, next_step, more, count(*) "
        "from rejects where intake = $intake and file = $file and table_name = 'readings' and reject > $told_before "
        "group by case when column_name = 'inspection' then 0 else row_no end, outcome, column_name, found, allowed, "
        "next_step, more order by min(reject) limit $most",
        {"intake": intake, "file": incoming.file, "told_before": told_before, "most": most_told},
    )
    return Loaded(
        read=taken.read + len(incoming.ragged),
        accepted=taken.accepted,
        duplicate=taken.duplicate,
        conflict=taken.conflict,
        rejected=taken.rejected + len(incoming.ragged),
        settled=settle(store, table, intake=intake, numbers=_settled_readings(store, long))
        + _settle_reading_places(store, long, intake=intake),
        problems=tuple(
            message
            for row, outcome, column, found, allowed, step, more, times in told
            for problem in [CellProblem(column=column, found=found, allowed=allowed, next_step=step)]
            for message in (
                str(as_problem(table, long.file, row, problem, outcome=outcome))
                + (f"; so it is with {times} of its readings" if times > 1 else ""),
                *more.splitlines(),
            )
        ),
        notes=(*long.notes, *left_out, *(f"{incoming.file}, readings: {told}" for told in taken.retracted)),
    )


def _staged_rows(store: Store, incoming: Incoming) -> pd.DataFrame:
    """Fetch a file's rows as texts, without blank ones; the index tells them apart."""
    named = ", ".join(f'{held} as "{name.replace(chr(34), chr(34) * 2)}"' for name, held in incoming.columns.items())
    blank = " and ".join(f"trim(coalesce({held}, '')) = ''" for held in incoming.columns.values())
    rows = store.table(
        f"select {incoming.row_number} as row_no, {named} from {incoming.relation} where not ({blank}) order by rowid"
    )
    return rows.astype(object).where(rows.notna(), None)


def _filled_up(store: Store, table: Table, frame: pd.DataFrame, *, mark: DecimalMark | None) -> pd.DataFrame:
    """Give rows that correct others the columns that their file does not bear, as the store has them.

    A corrected unit changes what the sizes of its row mean, so they are read again, whether or not the file bears them.
    """
    absent = [column.name for column in table.columns if column.name not in frame]
    if table.name not in ("inspections", "gauges") or not absent or frame.empty:
        return frame
    key = table.key[0]
    written = contract_text(table)
    held = store.table(f"select {', '.join(f'{written[name]} as {name}' for name in (key, *absent))} from {table.name}")
    keys = frame[key].map(cleaned)
    filled = held.set_index(key).reindex(keys).set_index(frame.index)
    for name in (name for name in absent if table.column(name).kind in NUMERIC_KINDS):
        # what the store has written with a point, and sizes as they were typed, in the file's own way
        filled[name] = filled[name].str.replace(",", ".").str.replace(".", mark or ".", regex=False)
    return frame.join(filled.astype(object).where(filled.notna(), None))


def _ragged_rows(incoming: Incoming) -> list[KeptOut]:
    return [
        KeptOut(
            row=ragged.row,
            outcome="rejected",
            problems=[_ragged(incoming, ragged)],
            cells=_ragged_cells(incoming, ragged),
        )
        for ragged in incoming.ragged
    ]


def _ragged(incoming: Incoming, ragged: Ragged) -> CellProblem:
    mark = ";" if incoming.semicolons else ","
    known = {column.name: example_of(column) for column in incoming.table.columns}
    width = example_of(TABLE_BY_NAME["readings"].column("width"))
    row = mark.join(known.get(name, width) for name in list(incoming.columns)[: ragged.columns])
    return CellProblem(
        column="",
        found=f"has {counted(len(ragged.cells), 'cell')} where there are {ragged.columns} columns",
        allowed=f"{counted(ragged.columns, 'cell')} in every row",
        next_step='look for a missing or an extra delimiter; put text with delimiters in "quotes"; for example: ' + row,
    )


def _ragged_cells(incoming: Incoming, ragged: Ragged) -> dict[str, str | None]:
    names = list(incoming.columns)
    return {names[at] if at < len(names) else f"cell {at + 1}": cell for at, cell in enumerate(ragged.cells)}


def _reject_numbers(taken: pd.DataFrame) -> list[int]:
    """Give the rejects that mended rows name."""
    if "reject" not in taken:
        return []
    return [int(text) for text in taken["reject"].dropna() if str(text).strip().isdigit()]


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def _unprintable_extras(incoming: Incoming, rows: pd.DataFrame) -> dict[int, list[CellProblem]]:
    """Find the rows with a sign that cannot be printed in a column that the table does not have."""
    found: dict[int, list[CellProblem]] = {}
    for name in incoming.extra:
        texts = rows[name].dropna().astype(str)
        for row, text in texts[texts.str.contains(UNPRINTABLE)].items():
            try:
                refuse_unprintable(text)
            except TypedValueError as refused:
                found.setdefault(int(str(row)), []).append(CellProblem.of(name, refused))
    return found


def _note_extras(store: Store, incoming: Incoming, taken: pd.DataFrame, values: pd.DataFrame, *, intake: int) -> None:
    """Keep the columns that the table does not have, beside the rows that came in."""
    extra = list(incoming.extra)
    if not extra or taken.empty:
        return
    written = contract_text(incoming.table)
    keys = values.loc[taken.index, [column.name for column in key_columns(incoming.table)]]
    casts = ", ".join(f'keys."{c.name}"::varchar::{c.sql_type} as "{c.name}"' for c in key_columns(incoming.table))
    long = taken[extra].reset_index().melt(id_vars="index", var_name="column_name", value_name="value")
    long["value"] = long["value"].map(lambda text: cleaned(text) if isinstance(text, str) else None)
    long = long.dropna(subset=["value"])
    if long.empty or not written:
        return
    arriving = long.merge(keys.reset_index(), on="index").astype("str")
    with store.frame("keys", arriving):
        store.execute(
            "create or replace temp table noted as "
            f"select column_name::varchar as column_name, value::varchar as value, "
            f"{key_json(incoming.table)} as key_json from (select column_name, value, {casts} from keys)"
        )
    _note(store, incoming.table, intake=intake)


def _note_reading_extras(store: Store, incoming: Incoming, *, intake: int) -> list[str]:
    """Keep the further columns of a file of readings, beside the readings that came in; tell what was left out."""
    noted = {name: held for name, held in incoming.extra.items() if name != "unit"}
    told = []
    for name, held in noted.items():
        store.execute(
            f"create or replace temp table noted as select $name as column_name, {_cleaned_sql(held)} as value, "
            "to_json([inspection, spline::varchar, station, trial::varchar])::varchar as key_json "
            f"from {incoming.relation} as incoming join parsed_readings on parsed_readings.row_id = incoming.rowid "
            f"where sound and trim(coalesce({held}, '')) <> '' and not regexp_matches({held}, $unprintable) "
            "and row_id not in (select row_id from kept_out_readings)",
            {"name": name, "unprintable": _UNPRINTABLE_SQL},
        )
        _note(store, incoming.table, intake=intake)
        odd = f"select count(*) from {incoming.relation} where regexp_matches({held}, $unprintable)"
        if left_out := store.value(odd, {"unprintable": _UNPRINTABLE_SQL}):
            told.append(
                f"{incoming.file}, {quoted(name)}: {counted(left_out, 'cell')} with signs that cannot be "
                f"printed left out"
            )
    return told


def _cleaned_sql(held: str) -> str:
    """Write the SQL that takes off the blanks around a text and the apostrophes of an export."""
    start = f"regexp_replace(trim({held}), '^''(''*[=+@\\t\\r-])', '\\1')"
    return f"regexp_replace({start}, '([;\\t\\n\\r])''(''*[=+@-])', '\\1\\2', 'g')"


def _note(store: Store, table: Table, *, intake: int) -> None:
    store.execute(
        "delete from notes using noted where notes.table_name = $table and notes.key_json = noted.key_json "
        "and notes.column_name = noted.column_name",
        {"table": table.name},
    )
    store.execute(
        "insert into notes (table_name, key_json, column_name, value, intake) "
        "select $table, key_json, column_name, any_value(value), $intake::integer from noted "
        "group by key_json, column_name order by key_json, column_name",
        {"table": table.name, "intake": intake},
    )


def _keep_readings_out(store: Store, long: Incoming, *, intake: int, on_paper: bool) -> None:
    """Write down the readings kept out, each with its whole row; on paper the column is the station's."""
    pairs = ", ".join(f"$n{at}, {held}" for at, held in enumerate(long.columns.values()))
    names = {f"n{at}": name for at, name in enumerate(long.columns)}
    column = f"case when column_name in ('width', 'station') then {long.columns['station']} else column_name end"
    store.execute(
        "create or replace temp table kept_out as "
        f"select kept.row_no, outcome, {column if on_paper else 'column_name'} as column_name, found, allowed, "
        f"next_step, more, json_object({pairs})::varchar as row_json from kept_out_readings as kept "
        f"join {long.relation} as incoming on incoming.rowid = kept.row_id order by row_id",
        names,
    )
    keep_out_relation(store, long.table, "kept_out", intake=intake, file=long.file)


def _settle_places(store: Store, incoming: Incoming, taken: pd.DataFrame, *, intake: int) -> int:
    """Settle the rejects of earlier files of this name whose row has been mended in place."""
    places = mended_places(store, incoming.table, intake=intake, file=incoming.file)
    here = taken[taken["row_no"].isin(places)] if places else taken.iloc[:0]
    if here.empty:
        return 0
    rows = [
        (int(cells.pop("row_no")), {str(name): text for name, text in cells.items()})
        for cells in here.to_dict("records")
    ]
    return settle_places(store, incoming.table, intake=intake, file=incoming.file, rows=rows)


def _settle_reading_places(store: Store, long: Incoming, *, intake: int) -> int:
    """Settle the rejects of readings of earlier files of this name that have been mended in place."""
    places = mended_places(store, long.table, intake=intake, file=long.file)
    if not places:
        return 0
    rows = store.rows(
        f"select parsed_readings.row_no, {', '.join(f'incoming.{held}' for held in long.columns.values())} "
        f"from {long.relation} as incoming join parsed_readings on row_id = incoming.rowid "
        "where sound and row_id not in (select row_id from kept_out_readings) "
        "and list_contains($places::integer[], parsed_readings.row_no)",
        {"places": places},
    )
    named = [(int(number), dict(zip(long.columns, cells, strict=True))) for number, *cells in rows]
    return settle_places(store, long.table, intake=intake, file=long.file, rows=named)


def _settled_readings(store: Store, long: Incoming) -> Sequence[int]:
    held = long.columns.get("reject")
    if held is None:
        return ()
    rows = store.rows(
        f"select try_cast({held} as integer) from {long.relation} as incoming "
        "join parsed_readings on row_id = incoming.rowid "
        "where sound and row_id not in (select row_id from kept_out_readings)"
    )
    return [row[0] for row in rows if row[0] is not None]
