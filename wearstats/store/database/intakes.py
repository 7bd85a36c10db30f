"""An intake is begun: its number, its day, what kind it is. Its number is the time by which rows count as recorded."""

from __future__ import annotations

import datetime
from typing import Literal

from wearstats.errors import UsageError
from wearstats.store.database.connection import Store

IntakeKind = Literal["add", "undo", "retract", "rename", "merge"]


def begin_intake(
    store: Store,
    *,
    on: datetime.date,
    kind: IntakeKind = "add",
    files: int = 0,
    bulk: bool = False,
    complete_to: datetime.date | None = None,
    undoes: int | None = None,
    because: str | None = None,
) -> int:
    """Give a new intake its number and write it down.

    Parameters
    ----------
    store : Store
        In a transaction.
    on : datetime.date
        The day from which its rows count as known.
    kind : str
        What it does.
    files : int
        How many files it brings.
    bulk : bool
        Whether its events count by their own dates.
    complete_to : datetime.date, optional
        The day up to which what became of hubs is complete with it.
    undoes : int, optional
        The intake that it takes back.
    because : str, optional
        Why, in the shop's words.

    Raises
    ------
    UsageError
        When the day lies before that of an earlier intake: of a day between, two rows of a key would be known.
    """
    number, last = store.rows(
        "select coalesce(max(intake), 0) + 1, max(case when not bulk then added_on end) from intakes"
    )[0]
    if last is not None and on < last and not bulk:
        raise UsageError(
            f"--as-of: {on} lies before {last}, the day of an earlier intake; what is known is only ever added to; "
            f"say {last} or a later day, or leave it out for today"
        )
    store.execute(
        "insert into intakes (intake, added_on, added_at, files, bulk, complete_to, kind, undoes, because) "
        "values ($intake, $on, now()::timestamp, $files, $bulk, $to, $kind, $undoes, $because)",
        {
            "intake": number,
            "on": on,
            "files": files,
            "bulk": bulk,
            "to": complete_to,
            "kind": kind,
            "undoes": undoes,
            "because": because,
        },
    )
    return int(number)
