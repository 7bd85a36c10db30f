"""A whole intake is taken back: what it brought goes, and what it had corrected or taken out is as before.

It is itself an intake, so that taking it back brings all of it in again, and a question about an earlier day is
answered as it was.
"""

from __future__ import annotations

import datetime

from wearstats.domain.tables import TABLES
from wearstats.errors import InputError, Problem, UsageError
from wearstats.store.database.connection import Store
from wearstats.store.database.intakes import begin_intake
from wearstats.store.kept_out.rows import settle
from wearstats.store.names.aliases import end_aliases
from wearstats.store.taking_back.report import TakenBack
from wearstats.store.taking_back.rows import (
    begin_going,
    counted,
    go,
    go_with,
    mentions,
    named_rows,
    on_key,
    put_back,
    sum_anew,
    take_out,
)


def intake_named(store: Store, name: str) -> int:
    """Find an intake by its number, or by the name of a file that it alone consisted of.

    Raises
    ------
    UsageError
        When there is none, or the file came together with others.
    """
    if name.isdigit():
        if store.value("select count(*) from intakes where intake = $number", {"number": int(name)}):
            return int(name)
        last = store.value("select max(intake) from intakes")
        allowed = f"numbers 1 to {last}, as wearstats store info lists them" if last else "the store has no intake yet"
        raise UsageError(f"INTAKE: there is no intake {name}; {allowed}")
    # of a file of several sheets or parts each has its own name behind that of the file
    found = store.rows(
        "with named as (select *, file = $file or starts_with(file, $file || ', ') as mine from intake_files) "
        "select named.intake, count(distinct file) filter (where not mine), any_value(undoing.intake) from named "
        "left join intakes as undoing on undoing.undoes = named.intake "
        "and undoing.intake not in (select undoes from intakes where undoes is not null) "
        "group by named.intake having bool_or(mine) order by named.intake desc",
        {"file": name},
    )
    if found and found[0][2]:
        # an older file of that name is not the one meant
        newest, _, by = found[0]
        older = next((intake for intake, _, undone in found if not undone), None)
        also = "" if older is None else f"; one of that name came in intake {older} too: say that number if it is meant"
        raise UsageError(f"INTAKE: {name} came in intake {newest}, which intake {by} has taken back already{also}")
    if not found:
        raise UsageError(
            f"INTAKE: no intake brought a file {name!r}; say its number or the file's name as wearstats store info "
            "lists them"
        )
    intake, others, _ = found[0]
    if others:
        raise UsageError(
            f"INTAKE: {name} came in intake {intake} together with {others} other {'file' if others == 1 else 'files'}"
            f"; take all of it back with: wearstats store undo {intake}, then add the others again"
        )
    return int(intake)


def undo(
    store: Store, intake: int, *, on: datetime.date, because: str | None = None, with_all: bool = False
) -> TakenBack:
    """Take back a whole intake.

    Parameters
    ----------
    store : Store
        Open for writing.
    intake : int
        Its number.
    on : datetime.date
        The day from which it counts as taken back.
    because : str, optional
        Why.
    with_all : bool
        Whether what came later and rests on it goes too.

    Returns
    -------
    TakenBack
        With what still mentions what is gone.

    Raises
    ------
    InputError
        When later intakes rest on it, with what they are; nothing is taken back then.
    UsageError
        When it was taken back already.
    """
    by = store.value("select min(intake) from intakes where undoes = $intake", {"intake": intake})
    if by is not None:
        raise UsageError(
            f"INTAKE: intake {intake} was taken back already, by intake {by}; to bring it in again: "
            f"wearstats store undo {by}"
        )
    with store.transaction():
        begin_going(store)
        for table in TABLES:
            go(store, table, "held.intake = $intake::integer", {"intake": intake})
        _refuse_later(store, intake, with_all=with_all)
        _let_stay(store, intake)
        later = go_with(store)
        if later and not with_all:
            raise InputError(_resting(store, intake, later))
        number = begin_intake(
            store, on=on, kind="undo", undoes=intake, because=because, complete_to=_end(store, intake)
        )
        left = mentions(store)
        for table in TABLES:
            # what is put back as it was goes too, as it stands
            store.execute(f"insert into going_{table.name} select * from staying_{table.name}")
        out = {table.name: take_out(store, table, intake=number) for table in TABLES}
        back = {
            table.name: put_back(
                store, table, "old.replaced_by = $of and old.intake <> $of", {"of": intake}, intake=number
            )
            for table in TABLES
        }
        reopened, closed = _rejects(store, intake, number)
        if store.value("select kind = 'undo' from intakes where intake = $of", {"of": intake}):
            # what had been taken back comes in again, and with it what mended rows kept out
            for table in TABLES:
                settle(store, table, intake=number)
        _notes(store, of=intake, by=number)
        end_aliases(store, of=intake, by=number)
        sum_anew(store, intake=number)
    return TakenBack(
        intake=number,
        kind="undo",
        out={name: rows for name, rows in out.items() if rows},
        back={name: rows for name, rows in back.items() if rows},
        reopened=reopened,
        closed=closed,
        left_behind=left,
    )


def _let_stay(store: Store, intake: int) -> None:
    """Set those rows aside that will be there as they were before: what rests on them need not go."""
    for table in TABLES:
        store.execute(
            f"insert into staying_{table.name} select going.* from going_{table.name} as going "
            f"where exists (select 1 from history_{table.name} as old where {on_key('old', 'going', table)} "
            "and old.replaced_by = $intake::integer)",
            {"intake": intake},
        )
        store.execute(
            f"delete from going_{table.name} as going where exists "
            f"(select 1 from staying_{table.name} as staying where {on_key('staying', 'going', table)})"
        )


def _refuse_later(store: Store, intake: int, *, with_all: bool) -> None:
    """Find rows of the intake that later ones corrected, took out or named anew; with all of it, let them go too."""
    problems = []
    for table in TABLES:
        found = store.rows(
            f"select later.intake, later.kind, count(*) from history_{table.name} as old "
            "join intakes as later on later.intake = old.replaced_by where old.intake = $intake::integer "
            "and later.intake <> old.intake group by all order by 1",
            {"intake": intake},
        )
        for later, kind, rows in found:
            if kind == "add" and with_all:
                go(
                    store,
                    table,
                    f"exists (select 1 from history_{table.name} as old where {on_key('old', 'held', table)} "
                    "and old.intake = $intake::integer)",
                    {"intake": intake},
                )
                continue
            if kind in ("retract", "undo"):
                # it is out already, and stays out
                continue
            what = {"add": "corrected", "rename": "named anew", "merge": "put under another name"}[kind]
            problems.append(
                Problem(
                    place=f"intake {intake}, {table.name}",
                    found=f"{rows} of its rows {'was' if rows == 1 else 'were'} {what} by intake {later}",
                    allowed="intakes on which no later one rests",
                    next_step=f"take that back first: wearstats store undo {later}"
                    + ("; or both with --with-all" if kind == "add" else ""),
                )
            )
    if problems:
        raise InputError(problems)


def _resting(store: Store, intake: int, later: dict[str, int]) -> list[Problem]:
    """Say what of later intakes rests on what would go."""
    problems = []
    for table in TABLES:
        if rows := later.get(table.name):
            gone = f"exists (select 1 from going_{table.name} as going where {on_key('going', 'held', table)}) "
            some = [place for place, _ in named_rows(store, table, f"{gone} and held.intake <> {int(intake)}")]
            problems.append(
                Problem(
                    place=f"intake {intake}",
                    found=f"{counted(table.name, rows)} of other intakes {'rests' if rows == 1 else 'rest'} on it: "
                    f"{', '.join(some[:3])}{', …' if rows > 3 else ''}",
                    allowed="intakes on which nothing rests",
                    next_step="take those back first, or all of it with --with-all",
                )
            )
    return problems


def _end(store: Store, intake: int) -> datetime.date | None:
    """Say how far outcomes are complete by the intake that the one taken back had itself taken back."""
    found: datetime.date | None = store.value(
        "select before.complete_to from intakes as before join intakes as this on this.undoes = before.intake "
        "where this.intake = $intake",
        {"intake": intake},
    )
    return found


def _rejects(store: Store, of: int, by: int) -> tuple[int, int]:
    """Open the rows kept out that the intake had settled, and close those that it kept out; or the reverse."""
    told = {"of": of}
    reopened = store.rows("update rejects set settled_by = null where settled_by = $of::integer returning reject", told)
    why = f"intake {of} was taken back (intake {by})"
    closed = store.rows(
        "update rejects set dismissed_because = $why, dismissed_on = intakes.added_on from intakes "
        "where rejects.intake = $of::integer and settled_by is null and dismissed_on is null "
        "and intakes.intake = $by::integer returning reject",
        {"of": of, "by": by, "why": why},
    )
    again = store.rows(
        "update rejects set dismissed_because = null, dismissed_on = null "
        "where ends_with(dismissed_because, $mark) returning reject",
        {"mark": f"was taken back (intake {of})"},
    )
    return len(reopened) + len(again), len(closed)


def _notes(store: Store, *, of: int, by: int) -> None:
    """Let what was noted beside the rows go and come with them."""
    store.execute("update notes set ended_by = null where ended_by = $of::integer", {"of": of})
    store.execute(
        "update notes set ended_by = $by::integer where intake = $of::integer and ended_by is null",
        {"of": of, "by": by},
    )
