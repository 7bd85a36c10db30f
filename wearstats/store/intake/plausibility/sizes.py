"""Sizes far from what they should be near, with what else they may have been meant as."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pandas as pd

from wearstats.domain.tables import UNITS
from wearstats.domain.typed import parse_number, quoted
from wearstats.domain.units import UM_PER_UNIT, Unit, um_exact
from wearstats.store.database.connection import Store
from wearstats.store.parsing.cells import CellProblem

PLAUSIBLE_SHARE = Decimal("0.15")
"""How far a size may lie from the pattern's new one, as a share of it.

Judgement, no source: 0.9 mm on a spline of 6 mm, several times the wear at which a shaft is scrapped, yet a wrong first
digit (4.98 for 5.98) lies beyond it.
"""

OVER_PINS_TIMES = 3
"""So many times the new width no worn or built-up spline is; a size over pins or wires is more.

It is more than the minor diameter, which is over three times a width even of the widest standard splines, four or six
of them (0.25 of the major diameter, minor 0.75 of it or more: the older American standard, from memory).
"""
OVER_PINS_MOST = 20
"""So many times the width not even a size over pins is: sixteen splines of 0.098 of the major diameter make it 13."""


def plausible(um: Decimal, nominal_um: Decimal) -> bool:
    """Whether a size can be a worn or built-up one of that nominal size."""
    return abs(um - nominal_um) <= PLAUSIBLE_SHARE * nominal_um


def far_size(
    column: str, text: str, unit: Unit, *, nominal_mm: Decimal, of: str, mark: str | None = None
) -> CellProblem:
    """Say that a size is far from the one it should be near, and what it may have been meant as.

    Parameters
    ----------
    column : str
        Where it stands.
    text : str
        The size as typed; a number.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Unit it was taken in.
    nominal_mm : Decimal
        What it should be near, in millimetres.
    of : str
        Whose size that is, as in ``D8's``.
    mark : {".", ","}, optional
        Decimal mark of the file.
    """
    value = parse_number(text, decimal_mark="," if mark == "," else "." if mark == "." else None).value
    nominal_um = nominal_mm * 1000
    allowed = [nominal_um * (1 + sign * PLAUSIBLE_SHARE) / UM_PER_UNIT[unit] for sign in (-1, 1)]
    digits = {"mm": 3, "in": 4, "thou": 1, "tenth-thou": 0}[unit]
    range_said = f"{allowed[0]:.{digits}f} to {allowed[1]:.{digits}f} {unit}"
    meanings = _meanings(value, unit, nominal_um)
    if column == "width" and not meanings and OVER_PINS_TIMES < um_exact(value, unit) / nominal_um <= OVER_PINS_MOST:
        return CellProblem(
            column=column,
            found=f"{quoted(text)} is over {OVER_PINS_TIMES} times {of} {nominal_mm:.3f} mm: "
            "it can only be a size over pins or wires, or a diameter",
            allowed=f"the width of one straight-sided spline across its two flanks, {range_said}",
            next_step="measure each spline across its flanks; involute splines and sizes over pins cannot be kept here",
        )
    return CellProblem(
        column=column,
        found=f"{quoted(text)} is far from {of} {nominal_mm:.3f} mm",
        allowed=range_said,
        next_step=meanings or "measure again, or correct the unit or the pattern",
    )


def _meanings(value: Decimal, unit: Unit, nominal_um: Decimal) -> str:
    """List what a size far off may have been meant as."""
    read_in = [
        f"read in {other}? write the unit {other}, or {_in_unit(value, _unit(other), unit)} {unit}"
        for other in UNITS
        if other != unit and plausible(um_exact(value, _unit(other)), nominal_um)
    ]
    slipped = [
        f"a slipped decimal? write {_plain(shifted)}, or correct the unit"
        for shift in (1, -1, 2, -2, 3, -3)
        if plausible(um_exact(shifted := value.scaleb(shift), unit), nominal_um)
    ]
    return "; or ".join(read_in + slipped)


def _unit(name: str) -> Unit:
    return next(unit for unit in UM_PER_UNIT if unit == name)


def _in_unit(value: Decimal, read_in: Unit, wanted: Unit) -> str:
    digits = {"mm": 4, "in": 5, "thou": 2, "tenth-thou": 1}[wanted]
    return _plain((um_exact(value, read_in) / UM_PER_UNIT[wanted]).quantize(Decimal(1).scaleb(-digits)))


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_NEAR = """
select arriving.row_id, arriving.unit, patterns.pattern, arriving.register, arriving.register_mm::double as register_at,
    patterns.register_mm as register_near, arriving.major, arriving.major_mm::double as major_at,
    patterns.major_mm as major_near, arriving.check_reading, arriving.check_reading_mm::double as check_reading_at,
    coalesce(check_pieces.size_mm, arriving.check_piece_mm::double) as check_reading_near,
    check_pieces.piece as named_piece
from arriving
left join check_pieces on check_pieces.piece = arriving.piece
left join shafts on shafts.shaft = arriving.shaft
left join patterns on patterns.pattern = shafts.pattern
"""


def _piece_near(store: Store, size_mm: float) -> str | None:
    """Name the check piece nearest to a size, within a tenth of a millimetre; None where there is none."""
    found = store.rows(
        "select piece from check_pieces where round(abs(size_mm - $size), 6) <= 0.1 "
        "order by abs(size_mm - $size), piece limit 1",
        {"size": size_mm},
    )
    return str(found[0][0]) if found else None


def inspection_problems(store: Store, values: pd.DataFrame, *, mark: str | None) -> dict[int, list[CellProblem]]:
    """Check the sizes on inspections against the pattern's and the check piece's.

    Parameters
    ----------
    store : Store
        Holds the shafts and patterns, those of the same intake too.
    values : pandas.DataFrame
        Rows of inspections as read; the index is the rows' identifier.
    mark : {".", ","} or None
        Decimal mark of the file.

    Returns
    -------
    dict
        Row identifier to its problems.
    """
    wanted = ("register", "major", "check_reading")
    if not any(name in values for name in wanted):
        return {}
    columns = ("shaft", "unit", "piece", "check_piece_mm", *wanted, *(f"{name}_mm" for name in wanted))
    arriving = pd.DataFrame({name: values.get(name) for name in columns}, index=values.index).astype(object)
    arriving = arriving.where(arriving.notna(), None)
    arriving.insert(0, "row_id", values.index)
    with store.frame("arriving", arriving.astype(dict.fromkeys(columns, "str"))):
        near = store.table(_NEAR)
    problems: dict[int, list[CellProblem]] = {}
    for name in wanted:
        far = near[(near[f"{name}_at"] - near[f"{name}_near"]).abs() > float(PLAUSIBLE_SHARE) * near[f"{name}_near"]]
        for row in far.to_dict("records"):
            own = f"check piece {row['named_piece']}'s" if pd.notna(row["named_piece"]) else "the check piece's"
            of = own if name == "check_reading" else f"{row['pattern']}'s"
            nominal = Decimal(str(row[f"{name}_near"]))
            problem = far_size(name, row[name], _unit(row["unit"]), nominal_mm=nominal, of=of, mark=mark)
            if name == "check_reading" and (other := _piece_near(store, row[f"{name}_at"])):
                problem = replace(
                    problem, next_step=f"is it check piece {other}? name that one; or {problem.next_step}"
                )
            problems.setdefault(int(row["row_id"]), []).append(problem)
    return problems
