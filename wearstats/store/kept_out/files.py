"""Rows kept out, written to files in which they can be mended and added again."""

from __future__ import annotations

import csv
import datetime
import json
import os
import re
from collections.abc import Hashable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.errors import Problem, StoreError, UsageError
from wearstats.store.archive.export import harmless_text
from wearstats.store.database.connection import Store
from wearstats.store.kept_out.rows import as_problem
from wearstats.store.parsing.blocks import REJECT_COLUMNS
from wearstats.store.parsing.cells import UNPRINTABLE, CellProblem


def list_rejects(store: Store, *, table: str | None = None, settled: bool = False) -> pd.DataFrame:
    """List rows kept out.

    Parameters
    ----------
    table : str, optional
        One table only.
    settled : bool
        Whether those are listed too whose mended row has come in, and those dismissed.

    Returns
    -------
    pandas.DataFrame
        One row a row kept out, in the order in which they were met.
    """
    return store.query("store/rejects", table=table, settled=settled)


def dismiss_rejects(
    store: Store, numbers: Sequence[int], *, on: datetime.date, because: str, table: str | None = None
) -> list[int]:
    """Close rejects that nobody will mend; they stay in the store with the day and the reason.

    Parameters
    ----------
    store : Store
        Open for writing.
    numbers : sequence of int
        Which; all open ones where none is given.
    on : datetime.date
        The day.
    because : str
        The reason.
    table : str, optional
        One table only.

    Returns
    -------
    list of int
        Those closed.

    Raises
    ------
    UsageError
        When a number is that of no open reject; none is closed then.
    """
    still_open = [int(number) for number in list_rejects(store, table=table)["reject"]]
    if unknown := [str(number) for number in numbers if number not in still_open]:
        raise UsageError(
            f"--dismiss: {', '.join(unknown)} is not among the rows kept out and still to be mended; "
            f"{', '.join(map(str, still_open[:20])) or 'there are none'}; list them with: wearstats store rejects"
        )
    closed = list(dict.fromkeys(numbers)) or still_open
    with store.transaction():
        store.execute(
            "update rejects set dismissed_on = $on, dismissed_because = $because "
            "where list_contains($closed::integer[], reject)",
            {"on": on, "because": because, "closed": closed},
        )
    return closed


def problem_of(row: Mapping[Hashable, Any]) -> Problem:
    """Say what is wrong with a row of `list_rejects`."""
    problem = CellProblem(column=row["column"], found=row["found"], allowed=row["allowed"], next_step=row["next_step"])
    return as_problem(TABLE_BY_NAME[row["table"]], row["file"], row["row"], problem, outcome=row["outcome"])


def export_rejects(store: Store, out: Path, *, table: str | None = None, force: bool = False) -> dict[Path, int]:
    """Write the open rejects to CSV files that can be mended and added again.

    Parameters
    ----------
    out : pathlib.Path
        A file for one table, its name ending in ``.csv``; else a folder, made if need be, for a file a table.
    table : str, optional
        One table only.
    force : bool
        Whether files that are there already may be overwritten.

    Returns
    -------
    dict
        File to its number of rows. Its first column ties each row to its reject, the last say what was wrong.

    Raises
    ------
    UsageError
        When one file is asked for and the rejects are of several tables.
    StoreError
        When a file is there already or cannot be written.
    """
    rejects = list_rejects(store, table=table)
    tables = [str(name) for name in rejects["table"].unique()]
    single = out.suffix.lower() == ".csv"
    if single and len(tables) > 1:
        raise UsageError(f"{out}: rows of {', '.join(tables)} do not go into one file; name a folder, or say --table")
    places = {name: out if single else out / f"{name}.csv" for name in tables}
    there = [str(place) for place in places.values() if place.exists()]
    if there and not force:
        raise StoreError(f"{', '.join(there)}: is there already; choose another name, or say --force to overwrite it")
    try:
        if not single:
            out.mkdir(parents=True, exist_ok=True)
        return {place: _write(place, name, rejects[rejects["table"] == name]) for name, place in places.items()}
    except OSError as refused:
        raise StoreError(f"{out}: cannot be written ({refused.strerror}); choose another place") from refused


def _write(place: Path, table: str, rejects: pd.DataFrame) -> int:
    """Write the rejects of one table, whole or not at all."""
    rows: list[dict[str, str | None]] = [json.loads(text) for text in rejects["row_json"]]
    known = [column.name for column in TABLE_BY_NAME[table].columns]
    further = dict.fromkeys(name for row in rows for name in row if name not in known and name not in REJECT_COLUMNS)
    borne = [name for name in known if any(name in row for row in rows)] + list(further)
    first, *rest = REJECT_COLUMNS
    building = place.with_name(f".{place.name}.{os.getpid()}.new")
    with building.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow([first, *map(harmless_text, borne), *rest])
        told = rejects[[first, *(name.removeprefix("reject_") for name in rest)]].itertuples(index=False, name=None)
        for row, (number, *reasons) in zip(rows, told, strict=True):
            writer.writerow([number, *(_as_typed(row.get(name)) for name in borne), *map(_reason, reasons)])
    os.replace(building, place)
    return len(rows)


def _as_typed(cell: str | None) -> str:
    """Write a cell as it was typed, so that no spreadsheet runs it and intake reads what it read before.

    What begins with an apostrophe has the one that intake takes off; what was refused for its signs loses them.
    """
    text = UNPRINTABLE.sub("\ufffd", cell or "").strip()
    inside = re.sub(r"([;\t\n\r])([=+\-@])", r"\1'\2", text)
    return inside if text.startswith("'") or harmless_text(text)[:1] != "'" else f"'{inside}"


def _reason(value: object) -> str:
    """Write what was wrong, which intake does not read."""
    return "" if value is None else harmless_text(UNPRINTABLE.sub("\ufffd", str(value)))
