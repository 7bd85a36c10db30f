"""Readings, which come in millions: into the store by whole columns, each different text read once.

A row of readings is four short texts drawn from few: the places of a pattern, the widths near its new one. So the
different texts are read, by SQL where any reader takes them alike and by the domain's rules where not, and the rows
are joined to what they say.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import pandas as pd

from wearstats.domain.frames import TABLE_BY_NAME
from wearstats.domain.typed import (
    PLAIN_NUMBER,
    DecimalMark,
    TypedValueError,
    decimal_mark_of,
    parse_size,
    parse_unit,
    quoted,
)
from wearstats.domain.units import TENTHS_PER_UNIT, Unit
from wearstats.store.connection import Store
from wearstats.store.intake_checks import PLAUSIBLE_SHARE, far_size, plausible
from wearstats.store.intake_files import Incoming
from wearstats.store.intake_rows import CellProblem, cleaned, read_rows
from wearstats.store.sql_catalogue import statement

_READINGS = TABLE_BY_NAME["readings"]
_MOST_DIGITS = 12
_NO_TEXT = "[^\\s\\S]"
_MOST_CELLS = 120
"""Places of one inspection that fit into the bits of a huge integer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsTaken:
    """What became of a file's readings.

    Parameters
    ----------
    read, accepted, duplicate, conflict, rejected : int
        How many.
    """

    read: int
    accepted: int
    duplicate: int
    conflict: int
    rejected: int


@dataclass(slots=True)
class _Problems:
    """The different things wrong with readings, numbered; ``place`` orders them within a row."""

    rows: list[dict[str, Any]] = field(default_factory=list)

    def add(self, place: int, problem: CellProblem) -> int:
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
        columns = ["problem", "place", "column_name", "found", "allowed", "next_step"]
        types = dict.fromkeys(columns[2:], "str") | {"problem": "int32", "place": "int32"}
        return pd.DataFrame(self.rows, columns=columns).astype(types)


def take_readings(store: Store, incoming: Incoming, *, intake: int, correct: bool) -> ReadingsTaken:
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

    Returns
    -------
    ReadingsTaken
        The rows kept out stand in the temporary table ``kept_out_readings``.
    """
    _name_columns(store, incoming)
    _run(store, "readings_inspections")
    problems = _Problems()
    _judge_inspections(store, problems)
    _judge_cells(store, problems)
    _judge_widths(store, problems)
    with store.frame("arriving_problems", problems.frame()):
        store.execute("create or replace temp table reading_problems as select * from arriving_problems")
    _run(store, "readings_parsed")
    _run(store, "readings_slow", most_cells=_MOST_CELLS)
    _run(store, "readings_outcomes", correct=correct)
    _run(store, "readings_kept_out", file=incoming.file)
    taken = _counted(store)
    if correct:
        _run(store, "readings_history", intake=intake)
        _run(store, "readings_correct", intake=intake)
    _run(store, "readings_insert", intake=intake)
    _keep_sums(store, intake=intake)
    return taken


def restate_readings(store: Store, *, intake: int) -> None:
    """Read widths anew whose inspection's unit was corrected, and sum anew where the gauge's step was.

    Raises
    ------
    InputError
        When a width cannot be one in the corrected unit.
    """
    _run(store, "restated_inspections", intake=intake)
    if not store.value("select count(*) from touched_inspections"):
        return
    texts = _run(store, "restated_widths")
    sizes = [
        parse_size(typed, _unit(unit), decimal_mark="," if "," in typed else None).tenths
        for unit, typed in texts.itertuples(index=False)
    ]
    with store.frame("restated_sizes", texts.assign(width_tenth_um=sizes)):
        _run(store, "restated_readings")
    _run(store, "readings_history", intake=intake)
    _run(store, "readings_correct", intake=intake)
    _run(store, "restated_intakes", intake=intake)
    _sum_touched(store)


def _run(store: Store, name: str, **params: Any) -> pd.DataFrame:
    return store.run(statement(name, "intake"), **params)


def _unit(name: str) -> Unit:
    return parse_unit(name)


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


def _judge_inspections(store: Store, problems: _Problems) -> None:
    """Find what is wrong with the inspections named: blank, not in the store, or said to be in another unit."""
    odd = store.rows(
        "select text, said_unit, name, known, unit from arriving_inspections "
        "where not known or (said_unit <> '' and lower(trim(said_unit)) is distinct from unit) order by text, said_unit"
    )
    rows = []
    for text, said, name, known, unit in odd:
        if not name:
            problem = CellProblem(
                column="inspection", found="nothing is written", allowed="a value in every row", next_step="fill it in"
            )
        elif not known:
            problem = CellProblem(
                column="inspection",
                found=f"{quoted(name)} is not in the store, so its unit is not known",
                allowed="an inspection in the store or in the files added with it",
                next_step="add its row of inspections, then add these readings again",
            )
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


def _judge_cells(store: Store, problems: _Problems) -> None:
    """Read the places named, and find those that the pattern does not have."""
    cells = _run(store, "readings_cells")
    read = read_rows(_READINGS, cells[["spline", "station", "trial"]])
    numbers: dict[tuple[int, str, int], int] = {}
    rows = []
    for index, row in enumerate(cells.to_dict("records")):
        found = list(read.problems.get(index, ()))
        found = [problem for problem in found if problem.column not in ("inspection", "width")]
        values = read.values.loc[index]
        spline, station, trial = (values[name] for name in ("spline", "station", "trial"))
        if not found:
            found = _place_problems(row, int(spline), station)
        if found:
            several = [problems.add(1, problem) for problem in found]
            rows.append((row["kind"], row["spline"], row["station"], row["trial"], None, None, None, None, several))
        else:
            key = (int(spline), station, int(trial))
            cell = numbers.setdefault(key, len(numbers))
            rows.append((row["kind"], row["spline"], row["station"], row["trial"], cell, *key, None))
    columns = ["kind", "spline_text", "station_text", "trial_text", "cell", "spline", "station", "trial", "problems"]
    with store.frame("judged", pd.DataFrame(rows, columns=columns, dtype=object)):
        store.execute(
            "create or replace temp table judged_cells as select kind::bigint as kind, spline_text::varchar as spline_text, "
            "station_text::varchar as station_text, trial_text::varchar as trial_text, cell::integer as cell, "
            "spline::integer as spline, station::varchar as station, trial::integer as trial, "
            "problems::integer[] as problems from judged"
        )


def _place_problems(row: dict[str, Any], spline: int, station: str) -> list[CellProblem]:
    """Check a place against the pattern, where the pattern is known."""
    if not isinstance(row["pattern"], str):
        return []
    found = []
    if spline > row["splines"]:
        found.append(
            CellProblem(
                column="spline",
                found=f"spline {spline} of {int(row['splines'])}",
                allowed=f"1 to {int(row['splines'])}, as {row['pattern']} has them",
                next_step="correct the spline's number or the shaft's pattern",
            )
        )
    stations = str(row["stations"]).split(";")
    if station not in stations:
        found.append(
            CellProblem(
                column="station",
                found=f"{quoted(station)} is no station of {row['pattern']}",
                allowed=", ".join(stations),
                next_step="correct the station, or the pattern's list of stations",
            )
        )
    return found


def _judge_widths(store: Store, problems: _Problems) -> None:
    """Read the widths: in SQL those that all read alike, by the domain's rules the others; refuse implausible ones."""
    with_comma = store.rows("select distinct width from arriving_readings where contains(width, ',')")
    mark: DecimalMark | None = None
    if with_comma:
        texts = store.rows("select distinct width from arriving_readings")
        mark = decimal_mark_of([str(row[0]) for row in texts])
    per_unit = pd.DataFrame({"unit": list(TENTHS_PER_UNIT), "tenths": [str(n) for n in TENTHS_PER_UNIT.values()]})
    with store.frame("units_arriving", per_unit):
        store.execute(
            "create or replace temp table tenths_per_unit as select unit, tenths::decimal(7, 1) as tenths from units_arriving"
        )
    # where the comma is the decimal mark a point may set thousands apart: then no text is plain
    plain = PLAIN_NUMBER if mark != "," else _NO_TEXT
    _run(store, "readings_widths", plain_number=plain, most_digits=_MOST_DIGITS, share=PLAUSIBLE_SHARE)
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
        size = parse_size(bare, _unit(unit), decimal_mark=mark)
    except TypedValueError as refused:
        problem = CellProblem.of("width", refused)
        # a number of the wrong size is told what it may have been meant as; what is no number cannot be
        if nominal_mm is not None and "is no size" in refused.found and not bare.startswith("-"):
            problem = far_size("width", bare, _unit(unit), nominal_mm=nominal_mm, of=f"{pattern}'s", mark=mark)
        return None, problem
    if nominal_mm is not None and not plausible(Decimal(size.tenths) / 10, nominal_mm * 1000):
        return None, far_size("width", bare, _unit(unit), nominal_mm=nominal_mm, of=f"{pattern}'s", mark=mark)
    return size.tenths, None


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
        duplicate=slow.get("duplicate", 0),
        conflict=slow.get("conflict", 0),
        rejected=rejected,
    )
    if sound + rejected != read:
        raise AssertionError(f"{read} readings read, but {sound} sound and {rejected} rejected")
    return taken


def _keep_sums(store: Store, *, intake: int) -> None:
    """Bring the moments and counts up to date with the readings just taken in."""
    several = bool(_run(store, "readings_several_trials")["several"].iloc[0])
    _run(store, "readings_touched", several_trials=several)
    _run(store, "readings_intakes", intake=intake)
    if not several:
        _run(store, "moments_single")
        _run(store, "counts_single")
    _sum_touched(store)


def _sum_touched(store: Store) -> None:
    """Make the sums of the touched inspections anew from their readings."""
    if not store.value("select count(*) from touched_inspections"):
        return
    for name in ("inspection_moments", "reading_counts"):
        store.execute(f"delete from {name} where inspection in (select inspection from touched_inspections)")
    _run(store, "moments")
    _run(store, "counts")
