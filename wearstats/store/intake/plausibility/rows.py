"""Rows that cannot be: sizes that fit no shaft, steps that no gauge has, days and names that contradict themselves.

What only looks wrong is kept and told; see ``sql/checks``.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from decimal import Decimal
from typing import Final

import pandas as pd

from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import Table
from wearstats.errors import InputError
from wearstats.store.database.connection import Store
from wearstats.store.intake.plausibility.days import failed_day_problems
from wearstats.store.intake.plausibility.sizes import far_size, inspection_problems, plausible
from wearstats.store.parsing.cells import CellProblem

COARSEST_UM = 500
"""A step from which on nothing is a gauge of widths: the half millimetre of a ruler (judgement)."""

LEAST_UNDERSIZE_UM = 1
"""Nobody can make, or tell, a hub tighter by less; an undersize below it was typed in millimetres (judgement)."""

Problems = dict[int, list[CellProblem]]
_Row = dict[Hashable, str]

_NEAR: Final = {
    "hubs": {"space_width_mm": "space_width_mm", "register_mm": "register_mm"},
    "batches": {"go_mm": "space_width_mm", "no_go_mm": "space_width_mm"},
}
"""Sizes of a table's rows, and the size of their pattern that each must be near."""


def impossible_rows(store: Store, table: Table, values: pd.DataFrame, *, mark: str | None) -> Problems:
    """Find the rows that cannot be so.

    Parameters
    ----------
    store : Store
        Holds what the rows name, of the same intake too.
    table : Table
        Which table they belong to.
    values : pandas.DataFrame
        The rows as read; the index is their identifier.
    mark : {".", ","} or None
        Decimal mark of the file.

    Returns
    -------
    dict
        Row identifier to its problems.
    """
    found: Problems = {}
    if table.name == "inspections":
        found |= inspection_problems(store, values, mark=mark)
    if table.name in _NEAR:
        found |= _far_from_pattern(store, values, _NEAR[table.name])
    if table.name == "hub_spaces":
        found |= _spaces_of_no_hub(store, values)
    for names, rule in _RULES:
        if {*names} <= {*values.columns}:
            _by_rule(found, values[list(names)].dropna(), rule)
    if "failed_on" in values:
        found |= failed_day_problems(store, values.drop(index=list(found)))
    return found


def _by_rule(found: Problems, values: pd.DataFrame, rule: Callable[[_Row], list[CellProblem]]) -> None:
    """Add what a rule has against rows; what stands in many of them is looked at once."""
    distinct = values.drop_duplicates()
    against = [problems for cells in distinct.to_dict("records") if (problems := rule(cells))]
    if not against:
        return
    for row, cells in zip(values.index, values.to_dict("records"), strict=True):
        if problems := rule(cells):
            found.setdefault(int(row), []).extend(problems)


def _far_from_pattern(store: Store, values: pd.DataFrame, near: dict[str, str]) -> Problems:
    """Hold sizes against those of the pattern that the row names."""
    named = ", ".join(dict.fromkeys(near.values()))
    patterns = store.table(f"select pattern, {named} from patterns").set_index("pattern").to_dict("index")
    found: Problems = {}
    for column in (name for name in near if name in values):
        gauged = values[["pattern", column]].dropna()
        for row, pattern, text in zip(gauged.index, gauged["pattern"], gauged[column], strict=True):
            nominal = patterns.get(pattern, {}).get(near[column])
            if nominal is not None and nominal == nominal and not _near(text, nominal):
                problem = far_size(column, text, "mm", nominal_mm=Decimal(str(nominal)), of=f"{pattern}'s")
                found.setdefault(int(row), []).append(problem)
    return found


def _spaces_of_no_hub(store: Store, values: pd.DataFrame) -> Problems:
    """Hold the gauged spaces of hubs against the pattern of each: their widths, and how many there are."""
    hubs = store.table("select hub, pattern, splines from hubs join patterns using (pattern)").set_index("hub")
    of = hubs.reindex(values["hub"]).set_index(values.index)
    found = _far_from_pattern(store, values.assign(pattern=of["pattern"]), {"width_mm": "space_width_mm"})
    numbered = of.assign(space=values["space"].astype(int))
    for row, pattern, splines, space in numbered[numbered["space"] > of["splines"]].itertuples(name=None):
        problem = CellProblem(
            column="space",
            found=f"space {space} of {splines:g}",
            allowed=f"1 to {splines:g}, as {pattern} has them",
            next_step="correct the number, or the hub",
        )
        found.setdefault(int(row), []).append(problem)
    return found


def _near(text: str, nominal_mm: float) -> bool:
    return plausible(Decimal(text) * 1000, Decimal(str(nominal_mm)) * 1000)


def _sizes_of_a_pattern(row: _Row) -> list[CellProblem]:
    step = "measure a new one, or look for two columns swapped; nothing can be reckoned from these sizes"
    try:
        pattern = Pattern(
            pattern=row["pattern"],
            splines=int(row["splines"]),
            width_mm=float(row["width_mm"]),
            space_width_mm=float(row["space_width_mm"]),
            minor_mm=float(row["minor_mm"]),
            major_mm=float(row["major_mm"]),
            engaged_mm=float(row["engaged_mm"]),
            stations=tuple(row["stations"].split(";")),
        )
    except InputError as refused:
        return [
            CellProblem(
                column=problem.place.rpartition(", ")[2], found=problem.found, allowed=problem.allowed, next_step=step
            )
            for problem in refused.problems
        ]
    space, width_mm = row["space_width_mm"], pattern.width_mm
    if _near(space, width_mm):
        return []
    return [far_size("space_width_mm", space, "mm", nominal_mm=Decimal(str(width_mm)), of="the new width's")]


def _step_of_a_gauge(row: _Row) -> list[CellProblem]:
    step_um = float(row["resolution_um"])
    if step_um < COARSEST_UM:
        return []
    meant = f"in micrometres? write {float(row['resolution']) / 1000:g}" if row["unit"] == "mm" else ""
    return [
        CellProblem(
            column="resolution",
            found=f"'{float(row['resolution']):g}' {row['unit']} is no step of a gauge for widths",
            allowed=f"the least step that it shows, in its own unit, under {COARSEST_UM / 1000:g} mm",
            next_step=meant or "write 0.001 for a thousandth of an inch, 0.0001 for a tenth of one",
        )
    ]


def _undersize(column: str) -> Callable[[_Row], list[CellProblem]]:
    def too_small(row: _Row) -> list[CellProblem]:
        undersize = float(row[column])
        if undersize == 0 or abs(undersize) >= LEAST_UNDERSIZE_UM:
            return []
        return [
            CellProblem(
                column=column,
                found=f"'{undersize:g}' µm is less than anybody can make",
                allowed=f"0, or {LEAST_UNDERSIZE_UM} µm and more, in micrometres",
                next_step=f"in mm? write {undersize * 1000:g}; in inches? write {undersize * 25400:g}",
            )
        ]

    return too_small


def _in_order(first: str, then: str, *, allowed: str) -> Callable[[_Row], list[CellProblem]]:
    def backwards(row: _Row) -> list[CellProblem]:
        one, other = row[first], row[then]
        if float(one) <= float(other) if first.endswith("_mm") else one <= other:
            return []
        return [
            CellProblem(
                column=then,
                found=f"'{other}', where {first} is '{one}'",
                allowed=f"{allowed} {one}",
                next_step="correct one of them; are the two columns swapped?",
            )
        ]

    return backwards


def _follows_itself(row: _Row) -> list[CellProblem]:
    if row["refit_of"] != row["fitting"]:
        return []
    return [
        CellProblem(
            column="refit_of",
            found=f"'{row['refit_of']}' is this fitting itself",
            allowed="the fitting before it of the same shaft",
            next_step="name that one, or leave it blank",
        )
    ]


_RULES: Final[tuple[tuple[tuple[str, ...], Callable[[_Row], list[CellProblem]]], ...]] = (
    (
        ("pattern", "splines", "width_mm", "space_width_mm", "minor_mm", "major_mm", "engaged_mm", "stations"),
        _sizes_of_a_pattern,
    ),
    (("resolution", "resolution_um", "unit"), _step_of_a_gauge),
    (("undersize_um",), _undersize("undersize_um")),
    (("asked_undersize_um",), _undersize("asked_undersize_um")),
    (("made_on", "withdrawn_on"), _in_order("made_on", "withdrawn_on", allowed="a day from")),
    (("from_on", "to_on"), _in_order("from_on", "to_on", allowed="a day from")),
    (("sent_on", "back_by"), _in_order("sent_on", "back_by", allowed="a day from")),
    (("sent_on", "back_on"), _in_order("sent_on", "back_on", allowed="a day from")),
    (("go_mm", "no_go_mm"), _in_order("go_mm", "no_go_mm", allowed="a size over")),
    (("fitting", "refit_of"), _follows_itself),
)
"""Rules of one row by itself, each with the columns that it needs; a row that lacks one has nothing against it."""
