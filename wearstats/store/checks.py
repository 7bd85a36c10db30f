"""What looks wrong in a store: each check is a statement of ``sql/checks`` whose rows are findings."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from wearstats.errors import Problem
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement

CHECKS = (
    "rejects_open",
    "orphans",
    "widths_above_new",
    "widths_on_inch_steps",
    "readings_all_equal",
    "splines_missing",
    "inspections_after_fitting",
    "hubs_at_once",
    "tight_after_next",
    "fittings_undated",
    "fittings_before_dispatch",
    "follow_ups_before_fitting",
    "fittings_known_late",
    "tight_after_broken",
    "failed_before_tight",
    "would_not_yet_ran",
    "marks_above_splines",
)
"""The checks in the order in which they are made: first what is missing, then readings, then fittings."""

ABOUT_FITTINGS = CHECKS.index("hubs_at_once")
"""Where in `CHECKS` those of the fittings begin."""

AT_HAND = {"checked_days": "known_fitting_days", "checked_news": "known_fitting_news"}
"""What many checks ask of the fittings, by the name under which it is at hand to them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that looks wrong.

    Parameters
    ----------
    check : str
        Which check found it, one of `CHECKS`.
    place : str
        What it is about: ``inspection I00049, shaft S0044``.
    found : str
        What looks wrong there.
    next_step : str
        What can be done about it.
    """

    check: str
    place: str
    found: str
    next_step: str

    def __str__(self) -> str:
        """Give the one-line message."""
        return str(Problem(place=self.place, found=self.found, next_step=self.next_step))


def run_checks(store: Store, *, as_of: datetime.date, checks: Sequence[str] = CHECKS) -> list[Finding]:
    """Make every check, or some of them.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day is looked at.
    checks : sequence of str
        Which of `CHECKS`.

    Returns
    -------
    list of Finding
        By check in the order of `CHECKS`, then by place; empty when nothing looks wrong.
    """
    findings = []
    statements = {name: statement(name, "checks") for name in checks}
    asked = [name for name in AT_HAND if any(name in wanted.sql for wanted in statements.values())]
    with _at_hand(store, asked, as_of=as_of):
        for name, wanted in statements.items():
            rows = store.run(wanted, **dict.fromkeys(wanted.params, as_of))
            findings += [
                Finding(check=name, place=str(place), found=str(found), next_step=str(next_step))
                for place, found, next_step in zip(rows["place"], rows["found"], rows["next_step"], strict=True)
            ]
    return findings


@contextmanager
def _at_hand(store: Store, asked: Sequence[str], *, as_of: datetime.date) -> Iterator[None]:
    """Work out once what many checks ask, of `AT_HAND`."""
    try:
        for name in asked:
            store.execute(f"create temp table {name} as select * from {AT_HAND[name]}($as_of::date)", {"as_of": as_of})
        yield
    finally:
        for name in asked:
            store.execute(f"drop table if exists {name}")
