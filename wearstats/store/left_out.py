"""Patterns whose sizes cannot be: every question is asked of the store without them and all that hangs on them.

Intake refuses such a row, but a store of an older program may hold one, and it must not end the questions of all other
patterns. What is left out is hidden from the statements of one connection, by views that stand before the tables of the
same names; the store itself is not touched, and whoever opens it for another purpose sees all of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from wearstats.domain.pattern import Pattern
from wearstats.errors import InputError, Problem
from wearstats.store.database.connection import Store

_SIZES: Final = ("width_mm", "space_width_mm", "minor_mm", "major_mm", "engaged_mm")

_NEXT_STEP: Final = "correct its row of patterns and add it with: wearstats store add patterns.csv --correct"

_BY_PATTERN: Final = (
    "patterns",
    "engine_types",
    "shafts",
    "hubs",
    "batches",
    "orders",
    "undersizes_offered",
    "stock_counts",
    "costs",
)

_HIDDEN: Final = {
    **dict.fromkeys(_BY_PATTERN, "pattern in (select pattern from left_out)"),
    **dict.fromkeys(
        ("shaft_events", "inspections", "photos", "advice"), "shaft in (select shaft from left_out_shafts)"
    ),
    **dict.fromkeys(
        ("readings", "inspection_moments", "reading_counts", "reading_intakes"),
        "inspection in (select inspection from left_out_inspections)",
    ),
    **dict.fromkeys(
        ("dispatches", "fittings"),
        "coalesce(shaft, '') in (select shaft from left_out_shafts) or hub in (select hub from left_out_hubs)",
    ),
    "hub_spaces": "hub in (select hub from left_out_hubs)",
    "returns": (
        "hub in (select hub from left_out_hubs) or coalesce(fitting, '') in (select fitting from left_out_fittings)"
    ),
    "follow_ups": "fitting in (select fitting from left_out_fittings)",
}
"""Which rows of each table, and of its past, belong to what is left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A pattern that no question counts.

    Parameters
    ----------
    pattern : str
        Its name.
    shafts : int
        How many shafts are left out with it.
    problems : tuple of Problem
        Why.
    """

    pattern: str
    shafts: int
    problems: tuple[Problem, ...]

    def __str__(self) -> str:
        """Say so in a line."""
        shafts = "1 shaft" if self.shafts == 1 else f"{self.shafts} shafts"
        why = "; ".join(
            f"{problem.place.rpartition(', ')[2]} {problem.found} (allowed: {problem.allowed})"
            for problem in self.problems
        )
        return f"pattern {self.pattern} is left out, with its {shafts}, for its sizes cannot be: {why}; {_NEXT_STEP}"

    def refusal(self) -> InputError:
        """Give the error for a question that is of this pattern alone."""
        return InputError(
            [
                Problem(place=problem.place, found=problem.found, allowed=problem.allowed, next_step=_NEXT_STEP)
                for problem in self.problems
            ]
        )


def leave_out_impossible(store: Store) -> tuple[LeftOut, ...]:
    """Hide the patterns whose sizes cannot be from all that this connection is asked from now on.

    Parameters
    ----------
    store : Store
        Open for questions; none may be written to it afterwards.

    Returns
    -------
    tuple of LeftOut
        By pattern; nearly always empty, and the same when asked again. A row that has been corrected since counts
        as corrected on earlier days too.
    """
    main = f"{store.catalogue}.main"
    sizes = f"pattern, intake, splines, stations, {', '.join(_SIZES)}"
    now = _impossible(store, f"select {sizes} from {main}.patterns order by pattern")
    wrong = {name: problems for name, _, problems in now}
    past = _impossible(store, f"select {sizes} from {main}.history_patterns order by pattern, intake")
    if not wrong and not past:
        return ()
    shafts = dict(store.rows(f"select pattern, count(*) from {main}.shafts group by pattern"))
    _list_left_out(store, main, sorted(wrong))
    for table in _HIDDEN if wrong else ():
        for held in (table, f"history_{table}"):
            if held in store.tables():
                store.execute(
                    f"create or replace temp view {held} as select * from {main}.{held} where not ({_HIDDEN[table]})"
                )
    _hide_past(store, main, [(name, intake) for name, intake, _ in past if name not in wrong], hidden=bool(wrong))
    return tuple(
        LeftOut(pattern=name, shafts=int(shafts.get(name, 0)), problems=problems) for name, problems in wrong.items()
    )


def left_out_of(store: Store, shaft: str) -> LeftOut | None:
    """Find the pattern for whose sake a shaft is left out; None where it is not."""
    left_out = leave_out_impossible(store)
    pattern = store.value(f"select pattern from {store.catalogue}.main.shafts where shaft = $shaft", {"shaft": shaft})
    return next((left for left in left_out if left.pattern == pattern), None)


def _impossible(store: Store, sql: str) -> list[tuple[str, int, tuple[Problem, ...]]]:
    """Give the rows of patterns that cannot be, and why."""
    found = []
    for name, intake, splines, stations, *sizes in store.rows(sql):
        stated: dict[str, Any] = dict(zip(_SIZES, sizes, strict=True))
        try:
            Pattern(pattern=name, splines=splines, stations=tuple(stations), **stated)
        except InputError as refused:
            found.append((str(name), int(intake), refused.problems))
    return found


def _list_left_out(store: Store, main: str, patterns: list[str]) -> None:
    """Write down what hangs on the patterns, for the views."""
    store.execute(
        "create or replace temp table left_out as select unnest($names::varchar[]) as pattern", {"names": patterns}
    )
    lists = {
        "shafts": f"select shaft from {main}.shafts where pattern in (select pattern from left_out)",
        "hubs": f"select hub from {main}.hubs where pattern in (select pattern from left_out)",
        "inspections": f"select inspection from {main}.inspections where shaft in (select shaft from left_out_shafts)",
        "fittings": f"select fitting from {main}.fittings where {_HIDDEN['fittings']}",
    }
    for name, sql in lists.items():
        store.execute(f"create or replace temp table left_out_{name} as {sql}")


def _hide_past(store: Store, main: str, past: list[tuple[str, int]], *, hidden: bool) -> None:
    """Let a row of patterns that was corrected since hold from the day of the one that it corrected."""
    if not past:
        return
    store.execute(
        "create or replace temp table corrected_since as "
        "select unnest($names::varchar[]) as pattern, unnest($intakes::integer[]) as intake",
        {"names": [name for name, _ in past], "intakes": [intake for _, intake in past]},
    )
    left = " where not (pattern in (select pattern from left_out))" if hidden else ""
    store.execute(
        "create or replace temp view patterns as select held.* replace (least(held.intake, first.intake) as intake) "
        f"from {main}.patterns as held left join (select pattern, min(intake) as intake from corrected_since "
        f"group by pattern) as first on first.pattern = held.pattern{left.replace('(pattern in', '(held.pattern in')}"
    )
    both = " and not (pattern in (select pattern from left_out))" if hidden else ""
    store.execute(
        f"create or replace temp view history_patterns as select * from {main}.history_patterns "
        f"where (pattern, intake) not in (select (pattern, intake) from corrected_since){both}"
    )
