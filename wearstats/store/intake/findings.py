"""What looks wrong in what an intake has just brought: the store's own checks, made of its rows and told as notes."""

from __future__ import annotations

import datetime
from collections.abc import Collection
from typing import Final

from wearstats.store.checks import checks_of, run_checks
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement

MOST_TOLD = 5
"""How many findings of one check are told one by one; of a first load, `MOST_TOLD_OF_A_FIRST_LOAD`."""

MOST_TOLD_OF_A_FIRST_LOAD = 2

MOST_COMPARED = 50
"""How many new inspections are compared with earlier ones of their shafts; more at once are no owners' sheets."""

_NO_SLIPS: Final = ("rejects_open", "splines_missing")
"""Checks whose findings no intake tells: its report lists what it kept out, and too few readings are no slip."""


def findings_told(
    store: Store,
    *,
    intake: int,
    bulk: bool,
    added_on: datetime.date,
    tables: Collection[str],
    corrected: bool = False,
) -> list[str]:
    """Say what looks wrong in the rows that an intake has brought: they are kept, and `wearstats store check` lists it.

    Parameters
    ----------
    store : Store
        In the transaction of the intake, after its rows are in.
    intake : int
        Its number.
    bulk : bool
        Whether it is a first load, of which little is told.
    added_on : datetime.date
        The day from which its rows count as known.
    tables : collection of str
        Those of which it brought rows.
    corrected : bool
        Whether it may have corrected rows, by which others go.

    Returns
    -------
    list of str
        By check, a few findings of each, and how many more there are.
    """
    most = MOST_TOLD_OF_A_FIRST_LOAD if bulk else MOST_TOLD
    checks = [name for name in checks_of(tables) if name not in _NO_SLIPS]
    found = run_checks(store, as_of=added_on, checks=checks, intake=intake)
    notes = []
    for check in checks:
        told = [str(finding) for finding in found if finding.check == check]
        more = len(told) - most
        notes += [f"kept, but {text}" for text in told[:most]]
        notes += [f"{more} more such as the last ({check}): wearstats store check lists them"] if more > 0 else []
    notes += _left_behind(store, intake=intake, most=most) if corrected else []
    return notes if bulk else notes + _alike(store, intake=intake)


def _left_behind(store: Store, *, intake: int, most: int) -> list[str]:
    """Say which rows still go by what a corrected row said before."""
    found = store.run(statement("notes/left_behind", "intake"), intake=intake, most=most)
    return [
        f"{what} still says shaft {old}, as {named} did before; it says {new} now: correct this row too?"
        for what, named, old, new in found.itertuples(index=False, name=None)
    ]


def _alike(store: Store, *, intake: int) -> list[str]:
    """Say which new inspections have the very readings of another: a sheet sent twice, its day or name put right."""
    found = store.run(statement("notes/inspections_alike", "intake"), intake=intake, most=MOST_COMPARED)
    return [
        f"inspection {new} has the very same readings as {other} of that shaft: the same sheet, sent twice?"
        for new, other in found.itertuples(index=False, name=None)
    ]
