"""Readings, which come in millions: into the store by whole columns, each different text read once.

A row of readings is four short texts drawn from few: the places of a pattern, the widths near its new one. So the
different texts are read, by SQL where any reader takes them alike and by the domain's rules where not, and the rows
are joined to what they say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.domain.typed import TypedValueError, parse_size, parse_unit
from wearstats.errors import InputError, Problem
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement
from wearstats.store.intake.merge import end_earlier, gather_retracted, told_retracted
from wearstats.store.intake.reading_values import judge_readings
from wearstats.store.parsing.incoming import Incoming

_MOST_CELLS = 120
"""Places of one inspection that fit into the bits of a huge integer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsTaken:
    """What became of a file's readings.

    Parameters
    ----------
    read, accepted, duplicate, conflict, rejected : int
        How many.
    retracted : tuple of str
        What of the duplicates was retracted before, a line each intake.
    """

    read: int
    accepted: int
    duplicate: int
    conflict: int
    rejected: int
    retracted: tuple[str, ...] = ()


def take_readings(
    store: Store, incoming: Incoming, *, intake: int, correct: bool, again: bool = False
) -> ReadingsTaken:
    """Bring one file's readings into the store.

    Parameters
    ----------
    store : Store
        In a transaction; holds the patterns, shafts, gauges and inspections, those of the same intake too.
    incoming : Incoming
        Readings in long form: a row a reading.
    intake : int
        The number of the intake.
    correct : bool
        Whether other widths of known places replace those in the store.
    again : bool
        Whether readings that were retracted come in again.

    Returns
    -------
    ReadingsTaken
        The rows kept out stand in the temporary table ``kept_out_readings``.
    """
    _name_columns(store, incoming)
    for name in ("inspections", "readings"):
        gather_retracted(store, TABLE_BY_NAME[name], f"gone_{name}", again=again, sha256=incoming.sha256)
    judge_readings(store, semicolons=incoming.semicolons, lacking=incoming.lacking)
    _run(store, "readings/judge/parsed")
    _run(store, "readings/judge/slow", most_cells=_MOST_CELLS)
    _run(store, "readings/judge/outcomes", correct=correct)
    _run(store, "readings/judge/kept_out", file=incoming.file)
    taken = _counted(store)
    if correct:
        _run(store, "readings/write/history", intake=intake)
        _run(store, "readings/write/correct", intake=intake)
    _run(store, "readings/write/insert", intake=intake)
    end_earlier(store, TABLE_BY_NAME["readings"], intake=intake)
    _keep_sums(store, intake=intake)
    return taken


def restate_readings(store: Store, *, intake: int) -> None:
    """Read widths anew whose inspection's unit was corrected, and sum anew where the gauge's step was.

    Raises
    ------
    InputError
        When a width cannot be one in the corrected unit.
    """
    _run(store, "restate/inspections", intake=intake)
    if not store.value("select count(*) from touched_inspections"):
        return
    texts = _run(store, "restate/widths")
    sizes = [_restated(unit, typed, name) for unit, typed, name in texts.itertuples(index=False, name=None)]
    with store.frame("restated_sizes", texts.assign(width_tenth_um=sizes)):
        _run(store, "restate/readings")
    _run(store, "readings/write/history", intake=intake)
    _run(store, "readings/write/correct", intake=intake)
    end_earlier(store, TABLE_BY_NAME["readings"], intake=intake)
    _run(store, "restate/intakes", intake=intake)
    _sum_touched(store)


def _restated(unit: str, typed: str, inspection: str) -> int:
    """Read a width in the corrected unit of its inspection."""
    try:
        return parse_size(typed, parse_unit(unit), decimal_mark="," if "," in typed else None).tenths
    except TypedValueError as refused:
        raise InputError(
            Problem(
                place=f"inspection {inspection}, unit",
                found=f"its readings stand in {unit} now, and {refused.found}",
                allowed=refused.allowed,
                next_step="correct the readings too, or leave the unit",
            )
        ) from None


def _run(store: Store, name: str, **params: Any) -> pd.DataFrame:
    return store.run(statement(name, "intake"), **params)


def _name_columns(store: Store, incoming: Incoming) -> None:
    """Give the staged columns the names that the statements use; a column that is not there is blank."""
    named = ", ".join(
        f"coalesce({incoming.columns[name]}, '') as {name}" if name in incoming.columns else f"'' as {name}"
        for name in ("inspection", "spline", "station", "trial", "width", "unit")
    )
    store.execute(
        f"create or replace temp view arriving_readings as select rowid as row_id, {incoming.row_number} as row_no, "
        f"{named} from {incoming.relation}"
    )


def _counted(store: Store) -> ReadingsTaken:
    read = int(store.value("select count(*) from arriving_readings"))
    sound = int(store.value("select count(*) from parsed_readings where sound"))
    fast = int(
        store.value("select count(*) from parsed_readings where sound and no not in (select no from slow_inspections)")
    )
    slow = dict(store.rows("select outcome, count(*) from reading_outcomes group by outcome"))
    rejected = int(store.value("select count(*) from kept_out_readings where outcome = 'rejected'"))
    taken = ReadingsTaken(
        read=read,
        accepted=fast + slow.get("accepted", 0) + slow.get("corrected", 0),
        duplicate=slow.get("duplicate", 0) + slow.get("retracted", 0),
        conflict=slow.get("conflict", 0),
        rejected=rejected,
        retracted=told_retracted(store, "reading_outcomes") if "retracted" in slow else (),
    )
    if sound + rejected != read:
        raise AssertionError(f"{read} readings read, but {sound} sound and {rejected} rejected")
    return taken


def _keep_sums(store: Store, *, intake: int) -> None:
    """Bring the moments and counts up to date with the readings just taken in."""
    several = bool(_run(store, "readings/write/several_trials")["several"].iloc[0])
    _run(store, "readings/write/touched", several_trials=several)
    _run(store, "readings/write/intakes", intake=intake)
    if not several:
        _run(store, "sums/moments_single")
        _run(store, "sums/counts_single")
    _sum_touched(store)


def _sum_touched(store: Store) -> None:
    """Make the sums of the touched inspections anew from their readings."""
    if not store.value("select count(*) from touched_inspections"):
        return
    for name in ("inspection_moments", "reading_counts"):
        store.execute(f"delete from {name} where inspection in (select inspection from touched_inspections)")
    _run(store, "sums/moments")
    _run(store, "sums/counts")
