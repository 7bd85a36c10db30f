"""The different texts that readings are made of, each judged once: inspections, places, widths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import pandas as pd

from wearstats.domain.examples import example_lines, example_said
from wearstats.domain.tables import STATIONS, TABLE_BY_NAME, TABLES
from wearstats.domain.typed import (
    PLAIN_NUMBER,
    DecimalMark,
    TypedValueError,
    parse_size,
    parse_unit,
    quoted,
)
from wearstats.domain.units import TENTHS_PER_UNIT
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement
from wearstats.store.intake.plausibility.sizes import PLAUSIBLE_SHARE, far_size, plausible
from wearstats.store.parsing.cells import CellProblem, cleaned, mark_of, read_rows

_READINGS = TABLE_BY_NAME["readings"]
_PLACE = ("spline", "station", "trial")
_MOST_DIGITS = 12
_NO_TEXT = "[^\\s\\S]"


@dataclass(slots=True)
class ReadingProblems:
    """The different things wrong with readings, numbered; ``place`` orders them within a row."""

    rows: list[dict[str, Any]] = field(default_factory=list)

    def add(self, place: int, problem: CellProblem) -> int:
        """Give a problem its number."""
        self.rows.append(
            {
                "problem": len(self.rows) + 1,
                "place": place,
                "column_name": problem.column,
                "found": problem.found,
                "allowed": problem.allowed,
                "next_step": problem.next_step,
            }
        )
        return len(self.rows)

    def frame(self) -> pd.DataFrame:
        """Give all problems, one row a number."""
        columns = ["problem", "place", "column_name", "found", "allowed", "next_step"]
        types = dict.fromkeys(columns[2:], "str") | {"problem": "int32", "place": "int32"}
        return pd.DataFrame(self.rows, columns=columns).astype(types)


def judge_readings(store: Store, *, semicolons: bool, lacking: Sequence[str] = ()) -> None:
    """Judge the texts of the readings in the view ``arriving_readings``.

    Leaves the temporary tables ``judged_inspections``, ``judged_cells`` and ``arriving_widths``, which say what each
    text means or the number of what is wrong with it, and ``reading_problems``, which explains the numbers. Whether
    semicolons set the file's columns apart helps to tell its decimal mark; what a sheet lacks to bring its own
    inspection is asked for.
    """
    store.run(statement("readings/judge/inspections", "intake"))
    problems = ReadingProblems()
    _judge_inspections(store, problems, lacking=lacking)
    _judge_cells(store, problems)
    _judge_widths(store, problems, semicolons=semicolons)
    with store.frame("arriving_problems", problems.frame()):
        store.execute("create or replace temp table reading_problems as select * from arriving_problems")


def _judge_inspections(store: Store, problems: ReadingProblems, *, lacking: Sequence[str]) -> None:
    """Find what is wrong with the inspections named: blank, not in the store, or said to be in another unit."""
    odd = store.rows(
        "select text, said_unit, name, known, unit, kept_out from arriving_inspections "
        "where not known or (said_unit <> '' and lower(trim(said_unit)) is distinct from unit) order by text, said_unit"
    )
    rows = []
    for text, said, name, known, unit, kept_out in odd:
        if not name:
            problem = CellProblem(
                column="inspection", found="nothing is written", allowed="a value in every row", next_step="fill it in"
            )
        elif not known:
            problem = _unknown_inspection(name, kept_out=kept_out, lacking=lacking)
        else:
            problem = CellProblem(
                column="unit",
                found=f"{quoted(said)} where inspection {name} is in {unit}",
                allowed=unit,
                next_step="correct the unit, here or on the inspection",
            )
        rows.append((text, said, problems.add(0, problem)))
    judged = pd.DataFrame(rows, columns=["text", "said_unit", "problem"])
    types = {"text": "str", "said_unit": "str", "problem": "int32"}
    with store.frame("judged", judged.astype(types)):
        store.execute(
            "create or replace temp table judged_inspections as select arriving_inspections.*, judged.problem "
            "from arriving_inspections left join judged using (text, said_unit)"
        )


def _unknown_inspection(name: str, *, kept_out: str | None, lacking: Sequence[str]) -> CellProblem:
    """Say why an inspection is not known: its own row was kept out, its sheet lacks a line, or nothing is there."""
    again = f"add its row, then these readings again; for example: {example_lines(TABLE_BY_NAME['inspections'])}"
    if kept_out is not None:
        again = f"mend {kept_out}, then add all of it again"
    elif lacking:
        again = f"write {', '.join(f'{part}:' for part in lacking)} above the rows, and add it again; for example: "
        again += example_said(lacking, TABLES)
    return CellProblem(
        column="inspection",
        found=f"{quoted(name)} is not in the store, so its unit is not known",
        allowed="an inspection in the store or in the files added with it",
        next_step=again,
    )


def _judge_cells(store: Store, problems: ReadingProblems) -> None:
    """Read the places named, and find those that the pattern does not have."""
    places = store.rows(statement("readings/judge/cells", "intake").sql)
    read = read_rows(_READINGS, pd.DataFrame([place[1:4] for place in places], columns=list(_PLACE), dtype="str"))
    numbers: dict[tuple[int, str, int], int] = {}
    rows: list[tuple[Any, ...]] = []
    values = read.cells[["spline", "station", "trial"]].to_numpy(dtype=object)
    for index, (kind, spline_text, station_text, trial_text, pattern, splines, listed) in enumerate(places):
        # a file of places alone bears neither inspection nor width: those are judged elsewhere
        found = [problem for problem in read.problems.get(index, ()) if problem.column in _PLACE]
        typed = (kind, spline_text, station_text, trial_text)
        if not found:
            spline, station, trial = int(values[index, 0]), str(values[index, 1]), int(values[index, 2])
            stations = list(STATIONS) if listed is None else str(listed).split(";")
            station = next((name for name in stations if name.lower() == station.lower()), station)
            if pattern is not None:
                found = _place_problems(pattern, splines, stations, spline=spline, station=station)
        if found:
            rows.append((*typed, None, None, None, None, [problems.add(1, problem) for problem in found]))
        else:
            cell = numbers.setdefault((spline, station, trial), len(numbers))
            rows.append((*typed, cell, spline, station, trial, None))
    columns = ["kind", "spline_text", "station_text", "trial_text", "cell", "spline", "station", "trial", "problems"]
    with store.frame("judged", pd.DataFrame(rows, columns=columns, dtype=object)):
        store.execute(
            "create or replace temp table judged_cells as select kind::bigint as kind, "
            "spline_text::varchar as spline_text, station_text::varchar as station_text, "
            "trial_text::varchar as trial_text, cell::integer as cell, spline::integer as spline, "
            "station::varchar as station, trial::integer as trial, problems::integer[] as problems from judged"
        )


def _place_problems(pattern: str, splines: int, stations: list[str], *, spline: int, station: str) -> list[CellProblem]:
    """Check a place against the pattern."""
    found = []
    if spline > splines:
        found.append(
            CellProblem(
                column="spline",
                found=f"spline {spline} of {splines}",
                allowed=f"1 to {splines}, as {pattern} has them",
                next_step="correct the spline's number or the shaft's pattern",
            )
        )
    if station not in stations:
        found.append(
            CellProblem(
                column="station",
                found=f"{quoted(station)} is no station of {pattern}",
                allowed=", ".join(stations),
                next_step="correct the station, or the pattern's list of stations",
            )
        )
    return found


def _judge_widths(store: Store, problems: ReadingProblems, *, semicolons: bool) -> None:
    """Read the widths: in SQL those that all read alike, by the domain's rules the others; refuse implausible ones."""
    with_comma = store.rows("select distinct width from arriving_readings where contains(width, ',')")
    mark: DecimalMark | None = None
    if with_comma:
        texts = store.rows("select distinct width from arriving_readings")
        mark = mark_of([str(row[0]) for row in texts], semicolons=semicolons)
    per_unit = pd.DataFrame({"unit": list(TENTHS_PER_UNIT), "tenths": [str(n) for n in TENTHS_PER_UNIT.values()]})
    with store.frame("units_arriving", per_unit):
        store.execute(
            "create or replace temp table tenths_per_unit as "
            "select unit, tenths::decimal(7, 1) as tenths from units_arriving"
        )
    # where the comma is the decimal mark a point may set thousands apart: then no text is plain
    plain = PLAIN_NUMBER if mark != "," else _NO_TEXT
    store.run(
        statement("readings/judge/widths", "intake"),
        plain_number=plain,
        most_digits=_MOST_DIGITS,
        share=PLAUSIBLE_SHARE,
    )
    odd = store.rows(
        "select kind, text, unit, pattern, new_tenth_um from arriving_widths "
        "where width_tenth_um is null and unit is not null order by kind, text"
    )
    rows = []
    for kind, text, unit, pattern, new in odd:
        tenths, problem = _read_width(text, unit, pattern, new, mark)
        rows.append((kind, text, tenths, None if problem is None else problems.add(2, problem)))
    if rows:
        judged = pd.DataFrame(rows, columns=["kind", "text", "tenths", "problem"], dtype=object)
        with store.frame("judged", judged):
            store.execute(
                "update arriving_widths as widths set width_tenth_um = judged.tenths::integer, "
                "problem = judged.problem::integer from judged "
                "where judged.kind::bigint = widths.kind and judged.text::varchar = widths.text"
            )


def _read_width(
    text: str, unit: str, pattern: str | None, new: int | None, mark: DecimalMark | None
) -> tuple[int | None, CellProblem | None]:
    """Read one width; gives its tenths of a micrometre, or what is wrong with it."""
    bare = cleaned(text)
    if bare is None:
        return None, CellProblem(
            column="width", found="nothing is written", allowed="a size", next_step="leave the row out if not measured"
        )
    nominal_mm = None if new is None else Decimal(new) / 10_000
    try:
        size = parse_size(bare, parse_unit(unit), decimal_mark=mark)
    except TypedValueError as refused:
        problem = CellProblem.of("width", refused)
        # a number of the wrong size is told what it may have been meant as; what is no number cannot be
        if nominal_mm is not None and "is no size" in refused.found and not bare.startswith("-"):
            problem = far_size("width", bare, parse_unit(unit), nominal_mm=nominal_mm, of=f"{pattern}'s", mark=mark)
        return None, problem
    if nominal_mm is not None and not plausible(Decimal(size.tenths) / 10, nominal_mm * 1000):
        return None, far_size("width", bare, parse_unit(unit), nominal_mm=nominal_mm, of=f"{pattern}'s", mark=mark)
    return size.tenths, None
