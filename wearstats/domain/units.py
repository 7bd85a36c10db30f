"""Units and their conversion: the only place where a factor between two units stands.

An inch is 25.4 mm exactly (international yard and pound agreement, 1959), so every factor here is exact. Inside the
program sizes are in millimetres (``_mm``), differences and spreads in micrometres (``_um``), and measured widths are
whole tenths of a micrometre, whose sums do not depend on the order of adding. Reading what a person has typed is in
`wearstats.domain.typed`.
"""

from __future__ import annotations

import datetime
import math
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    # a day is read before it is known whether anything has to be worked out
    import numpy as np
    from numpy.typing import NDArray

Unit = Literal["mm", "in", "thou", "tenth-thou"]

UM_PER_UNIT: dict[Unit, Decimal] = {
    "mm": Decimal(1000),
    "in": Decimal(25400),
    "thou": Decimal("25.4"),
    "tenth-thou": Decimal("2.54"),
}
"""Micrometres in one of each unit, exact."""

TENTHS_PER_UNIT: dict[Unit, Decimal] = {unit: 10 * um for unit, um in UM_PER_UNIT.items()}
"""Tenths of a micrometre in one of each unit, exact; for the SQL that converts whole columns."""

MEAN_MONTH_DAYS = 30.4375
"""A twelfth of the mean year of 365.25 days."""

_Number = TypeVar("_Number", float, "NDArray[np.float64]")


def um_per(unit: Unit) -> float:
    """Give the micrometres in one `unit`."""
    return float(UM_PER_UNIT[unit])


def to_um(value: _Number, unit: Unit) -> _Number:
    """Convert lengths to micrometres.

    Parameters
    ----------
    value : float or ndarray, any shape
        Lengths in `unit`.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Their unit.

    Returns
    -------
    float or ndarray, same shape
        The same lengths in micrometres.
    """
    return value * um_per(unit)


def from_um(value_um: _Number, unit: Unit) -> _Number:
    """Convert lengths from micrometres; the inverse of `to_um`."""
    return value_um / um_per(unit)


def mm_to_um(value_mm: _Number) -> _Number:
    """Convert millimetres to micrometres, a number or an array of any shape."""
    return to_um(value_mm, "mm")


def um_to_mm(value_um: _Number) -> _Number:
    """Convert micrometres to millimetres, a number or an array of any shape."""
    return from_um(value_um, "mm")


def um_exact(value: Decimal, unit: Unit) -> Decimal:
    """Convert a typed length to micrometres without any rounding."""
    return value * UM_PER_UNIT[unit]


def tenths_from_typed(value: Decimal, unit: Unit) -> int:
    """Convert a typed width to whole tenths of a micrometre.

    Parameters
    ----------
    value : decimal.Decimal
        As typed, in `unit`.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Its unit.

    Returns
    -------
    int
        Exact up to four decimals of a millimetre, three of an inch or none of a thou; finer ones are rounded to the
        nearest, halves away from zero, as SQL rounds decimals. Rounding moves a width by at most 0.05 um.
    """
    return int((value * TENTHS_PER_UNIT[unit]).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def tenths_to_mm(tenths: int) -> Decimal:
    """Give whole tenths of a micrometre in millimetres, exact, with four decimals."""
    return Decimal(tenths).scaleb(-4)


def tenths_to_unit(tenths: int, unit: Unit, *, decimals: int) -> Decimal:
    """Give a kept width in the unit it was typed in, at the decimals it was typed with.

    Parameters
    ----------
    tenths : int
        Width in tenths of a micrometre.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Unit wanted.
    decimals : int
        Decimals of the typed value. Gives the typed value back as long as its last place is worth more than
        0.1 um: four decimals of a millimetre or an inch, two of a thou, one of a tenth-thou.

    Returns
    -------
    decimal.Decimal
    """
    exact = Decimal(tenths) / TENTHS_PER_UNIT[unit]
    return exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)


def tenths_from_um(value_um: NDArray[np.float64]) -> NDArray[np.int32]:
    """Round lengths in micrometres to whole tenths, as widths are kept; any shape, below 200 mm."""
    import numpy as np

    return np.rint(value_um * 10.0).astype(np.int32)


def tenths_to_um(tenths: NDArray[np.integer]) -> NDArray[np.float64]:
    """Convert whole tenths of a micrometre, any shape, to micrometres."""
    import numpy as np

    return np.asarray(tenths, dtype=np.float64) / 10.0


def arcmin_from_mrad(angle_mrad: _Number) -> _Number:
    """Convert milliradians to minutes of arc, a number or an array of any shape."""
    return angle_mrad * (180 * 60 / (1000 * math.pi))


def days_from_months(months: _Number) -> _Number:
    """Convert mean months of 30.4375 days to days."""
    return months * MEAN_MONTH_DAYS


def months_from_days(days: _Number) -> _Number:
    """Convert days to mean months of 30.4375 days."""
    return days / MEAN_MONTH_DAYS


def months_between(start: datetime.date, end: datetime.date) -> float:
    """Give the mean months from one day to another; negative when `end` comes first."""
    return (end - start).days / MEAN_MONTH_DAYS


def hours_from_days(days: _Number, *, hours_a_day: float) -> _Number:
    """Give the running hours in some days; how long the engine runs a day is the caller's knowledge, no default."""
    return days * hours_a_day


def days_from_hours(hours: _Number, *, hours_a_day: float) -> _Number:
    """Give the days in which an engine gathers some running hours; the inverse of `hours_from_days`."""
    return hours / hours_a_day


def _rounded(value: Decimal, decimals: int) -> str:
    """Print a number with fixed decimals, never as minus zero."""
    text = f"{value.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN):f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def print_um(value_um: float, *, decimals: int | None = None) -> str:
    """Print a difference, such as an undersize, in both systems: ``0.10 mm (0.0039 in)``.

    Parameters
    ----------
    value_um : float
        Difference in micrometres.
    decimals : int, optional
        Decimals of the millimetres. Without it two, or three where the value is no whole number of 0.01 mm.

    Returns
    -------
    str
        Inches always with four decimals.
    """
    um = Decimal(str(round(float(value_um), 6)))
    if decimals is None:
        decimals = 2 if um % 10 == 0 else 3
    millimetres = _rounded(um / UM_PER_UNIT["mm"], decimals)
    inches = _rounded(um / UM_PER_UNIT["in"], 4)
    return f"{millimetres} mm ({inches} in)"


def engraved(value_um: float) -> str:
    """Write a size or an undersize as it is cut into metal, in mm: ``0.075``, and ``0.0825`` with half a micrometre."""
    um = Decimal(str(round(float(value_um), 1)))
    return str(_rounded(um / UM_PER_UNIT["mm"], 3 if um % 1 == 0 else 4))


def print_mm(value_mm: float, *, decimals: int = 3) -> str:
    """Print a size in both systems: ``5.980 mm (0.2354 in)``."""
    return print_um(float(value_mm) * um_per("mm"), decimals=decimals)


_WRITTEN: dict[str, Unit] = {
    **dict.fromkeys(("in.", "inch", "inches", '"', "\u2033", "\u201d", "\u201c", "''", "\u2032\u2032"), "in"),
    **dict.fromkeys(("mm.", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("thous", "thou."), "thou"),
    **dict.fromkeys(("tenth thou", "tenths-thou", "tenths thou"), "tenth-thou"),
}
"""Other ways in which people write a unit that can mean one thing only."""


def unit_or_none(text: str) -> Unit | None:
    """Find the unit that a text names, whatever its case: ``mm``, ``in``, ``inch``, ``"``; None where it names none."""
    name = text.strip().lower()
    return name if name in UM_PER_UNIT else _WRITTEN.get(name)
