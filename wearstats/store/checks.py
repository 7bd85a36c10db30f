"""What looks wrong in a store: each check is a statement of ``sql/checks`` whose rows are findings.

The same checks are made of what an intake has just brought (`wearstats.store.intake.findings`), and of all there is.
"""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from wearstats.domain.tables import TABLES
from wearstats.errors import Problem
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement

CHECKS = (
    "rejects_open",
    "orphans",
    "dated_ahead",
    "dated_alone",
    "patterns_impossible",
    "patterns_odd",
    "patterns_not_as_read",
    "gauge_steps_odd",
    "undersizes_odd",
    "costs_odd",
    "offered_backwards",
    "stock_counts_odd",
    "orders_odd",
    "batches_odd",
    "batch_dates_odd",
    "hubs_not_of_their_batch",
    "hub_spaces_far",
    "hub_places_odd",
    "hub_gaugings_odd",
    "hub_notes_odd",
    "check_pieces_odd",
    "hours_odd",
    "inspection_dates_odd",
    "inspection_sizes_far",
    "units_not_of_their_gauge",
    "shafts_wider_than_before",
    "widths_above_new",
    "widths_on_inch_steps",
    "readings_all_equal",
    "readings_stand_out",
    "readings_finer_than_gauge",
    "splines_missing",
    "sent_of_other_pattern",
    "sent_twice",
    "sent_though_spoiled",
    "sent_not_as_asked",
    "returned_not_as_sent",
    "fitted_of_other_pattern",
    "fitted_not_as_sent",
    "fitting_notes_odd",
    "refits_odd",
    "inspections_of_another",
    "inspections_after_fitting",
    "hubs_at_once",
    "on_two_shafts",
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
"""The checks in the order in which they are made: first what is missing, then lists, readings, and fittings."""

ABOUT_FITTINGS = CHECKS.index("hubs_at_once")
"""Where in `CHECKS` those begin that hold a fitting against what became of it and of others."""

AT_HAND = {
    "checked_days": "checked_fitting_days",
    "checked_news": "checked_fitting_news",
    "checked_inspections": "checked_new_inspections",
}
"""What many checks ask, by the name under which it is at hand to them: macros of a day and an intake."""

_READS = {
    "checked_days": ("fittings", "dispatches", "follow_ups", "returns"),
    "checked_news": ("fittings", "dispatches", "follow_ups", "returns"),
    "checked_inspections": ("inspections", "readings"),
    "inspection_moments": ("readings",),
    "gauged_hubs": ("hubs", "hub_spaces"),
    "hub_gaugings": ("hubs", "hub_spaces"),
    "spoiled_returns": ("returns",),
}
"""Which tables stand behind what else a check reads."""

_KNOWN: Final = re.compile(r"\bknown_(\w+)\(\$as_of::date\)")
_MOST_AT_HAND: Final = 100_000
"""Rows of a table of which a copy is made for the checks."""


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


def run_checks(
    store: Store, *, as_of: datetime.date, checks: Sequence[str] = CHECKS, intake: int | None = None
) -> list[Finding]:
    """Make every check, or some of them.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day is looked at.
    checks : sequence of str
        Which of `CHECKS`.
    intake : int, optional
        Only what came to light with this intake: findings that rest on a row of it.

    Returns
    -------
    list of Finding
        By check in the order of `CHECKS`, then by place; empty when nothing looks wrong.
    """
    findings = []
    statements = {name: statement(name, "checks").sql for name in checks}
    asked = [name for name in AT_HAND if any(name in sql for sql in statements.values())]
    with _at_hand(store, asked, as_of=as_of, intake=intake), _known_at_hand(store, statements.values(), as_of) as known:
        for name, sql in statements.items():
            rows = store.table(*_restricted(known(sql), as_of=as_of, intake=intake))
            findings += [
                Finding(check=name, place=str(place), found=str(found), next_step=str(next_step))
                for place, found, next_step in zip(rows["place"], rows["found"], rows["next_step"], strict=True)
            ]
    return findings


def checks_of(tables: Collection[str]) -> list[str]:
    """Name the checks that read any of these tables."""
    return [name for name in CHECKS if not tables_read(name).isdisjoint(tables)]


@lru_cache
def tables_read(check: str) -> frozenset[str]:
    """Name the tables that a check reads, as files bear them."""
    words = set(re.findall(r"\b(?:from|join)\s+(?:known_)?(\w+)", statement(check, "checks").sql))
    named = {table.name for table in TABLES} & words
    return frozenset(named.union(*(_READS[name] for name in _READS if name in words)))


def _restricted(sql: str, *, as_of: datetime.date, intake: int | None) -> tuple[str, dict[str, object]]:
    """Give a check's statement, or with an intake only those of its rows that rest on it; and its parameters."""
    params: dict[str, object] = {"as_of": as_of} if "$as_of" in sql else {}
    if intake is None:
        return sql, params
    inner = sql.rstrip().removesuffix(";")
    return f"select * from (\n{inner}\n) where intake = $newest::integer", params | {"newest": intake}


@contextmanager
def _at_hand(store: Store, asked: Sequence[str], *, as_of: datetime.date, intake: int | None) -> Iterator[None]:
    """Work out once what many checks ask, of `AT_HAND`."""
    try:
        for name in asked:
            store.execute(
                f"create temp table {name} as select * from {AT_HAND[name]}($as_of::date, $newest::integer)",
                {"as_of": as_of, "newest": intake},
            )
        yield
    finally:
        for name in asked:
            store.execute(f"drop table if exists {name}")


@contextmanager
def _known_at_hand(store: Store, statements: Collection[str], as_of: datetime.date) -> Iterator[Callable[[str], str]]:
    """Give what makes a statement read small tables, as known on the day, that several of them read, from copies.

    What was known of a table takes longer to plan than to read where there is little of it.
    """
    read = Counter(name for sql in statements for name in _KNOWN.findall(sql))
    size = "select table_name, estimated_size from duckdb_tables() where database_name = current_database()"
    small = {str(name) for name, rows in store.rows(size) if rows <= _MOST_AT_HAND}
    copied = sorted(name for name, times in read.items() if times > 1 and name in small)
    try:
        for name in copied:
            store.execute(
                f"create temp table at_hand_{name} as select * from known_{name}($as_of::date)", {"as_of": as_of}
            )
        yield lambda sql: _KNOWN.sub(lambda found: f"at_hand_{found[1]}" if found[1] in copied else found[0], sql)
    finally:
        for name in copied:
            store.execute(f"drop table if exists at_hand_{name}")
