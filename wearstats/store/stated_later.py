"""What is stated of a batch or a hub after it came in: that a batch is withdrawn, that an owner was warned.

Both are corrections of a row, through the same intake as any file: the row as it stood goes to the history, and a
question about an earlier day gets what was known then.
"""

from __future__ import annotations

import datetime

import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.errors import StoreError, UsageError
from wearstats.store.database.connection import Store
from wearstats.store.intake.add import add_frames


def withdraw_batch(store: Store, batch: str, *, because: str, on: datetime.date) -> None:
    """State that a batch is withdrawn.

    Parameters
    ----------
    store : Store
        Open for writing.
    batch : str
        Its name.
    because : str
        Why, in the shop's words.
    on : datetime.date
        Since when, and from when it is known; a batch that was withdrawn before keeps its day.

    Raises
    ------
    UsageError
        When the batch is not on record, or no reason is given.
    """
    if not because.strip():
        raise UsageError('--withdraw: no reason; say why in a few words, for instance --withdraw "spaces too wide"')
    row = _row(store, "batches", "batch", batch)
    if row is None:
        raise UsageError(f"--batch: {batch!r} is not on record; add it first with: wearstats store add batches.csv")
    stated = {"withdrawn_on": row["withdrawn_on"] or on.isoformat(), "withdrawn_because": because.strip()}
    _correct(store, "batches", pd.DataFrame([row | stated]), on=on)


def note_warned(store: Store, shafts: list[str], *, on: datetime.date) -> int:
    """State that the owners of shafts were warned of the hubs that they were sent last.

    Parameters
    ----------
    store : Store
        Open for writing.
    shafts : list of str
        Their names.
    on : datetime.date
        From when it is known.

    Returns
    -------
    int
        How many dispatches bear it now.

    Raises
    ------
    UsageError
        When a shaft was never sent a hub, with all such names; nothing is written then.
    """
    rows, unknown = [], []
    for shaft in dict.fromkeys(shafts):
        found = store.table(
            f"select {_texts('dispatches')} from dispatches where shaft = $shaft order by sent_on desc, hub limit 1",
            {"shaft": shaft},
        )
        if found.empty:
            unknown.append(repr(shaft))
        else:
            rows.append(found.iloc[0].to_dict() | {"told": "yes"})
    if unknown:
        raise UsageError(
            f"--warned: no hub on record was sent to {', '.join(unknown)}; allowed: names of shafts as wearstats calls "
            "lists them; nothing was written"
        )
    _correct(store, "dispatches", pd.DataFrame(rows), on=on)
    return len(rows)


def _texts(table: str) -> str:
    """Write the columns of a table as texts, as files bear them."""
    return ", ".join(
        f'case when "{column.name}" then \'yes\' when not "{column.name}" then \'no\' end as "{column.name}"'
        if column.kind == "yes_no"
        else f'"{column.name}"::varchar as "{column.name}"'
        for column in TABLE_BY_NAME[table].columns
    )


def _row(store: Store, table: str, key: str, name: str) -> dict[str, str | None] | None:
    found = store.table(f'select {_texts(table)} from {table} where "{key}" = $name', {"name": name})
    return None if found.empty else {str(column): _cell(cell) for column, cell in found.iloc[0].items()}


def _cell(cell: object) -> str | None:
    return None if cell is None or cell != cell else str(cell)


def _correct(store: Store, table: str, rows: pd.DataFrame, *, on: datetime.date) -> None:
    report = add_frames(store, {table: rows}, added_on=on, correct=True, bulk=False)
    problems = [problem for file in report.files for problem in file.problems]
    if problems:
        raise StoreError(f"{store.path}: not taken: {'; '.join(problems)}; see wearstats store rejects")
