"""ISO 286 limits and fits, for the sizes that splines and registers have (up to 50 mm).

The table rules; the formula for the standard tolerance factor is only a cross-check, since the standard rounded its
tables. A clearance is hub less shaft: negative is interference.

References
----------
.. [1] ISO 286-1:2010, tables 1 (standard tolerances), 2 and 3 (fundamental deviations); the deviations of the sizes up
       to 3 mm are given from memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from wearstats.errors import InputError, Problem

STEPS_MM: tuple[tuple[float, float], ...] = ((0, 3), (3, 6), (6, 10), (10, 18), (18, 30), (30, 50))
"""Size steps: over the first, up to and including the second."""

MOST_MM = STEPS_MM[-1][1]
"""The largest nominal size on hand."""

TOLERANCE_UM: dict[int, tuple[int, ...]] = {
    5: (4, 5, 6, 8, 9, 11),
    6: (6, 8, 9, 11, 13, 16),
    7: (10, 12, 15, 18, 21, 25),
    8: (14, 18, 22, 27, 33, 39),
    9: (25, 30, 36, 43, 52, 62),
    10: (40, 48, 58, 70, 84, 100),
    11: (60, 75, 90, 110, 130, 160),
}
"""Standard tolerance of grades IT5 to IT11, by size step."""

FACTORS: dict[int, int] = {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100}
"""Multiples of the standard tolerance factor i in grades IT5 to IT11."""

# nearest the zero line: the upper deviation of d, f, g, h (shafts below it), the lower one of k, n, p (above it)
_UPPER_UM: dict[str, tuple[int, ...]] = {
    "d": (-20, -30, -40, -50, -65, -80),
    "f": (-6, -10, -13, -16, -20, -25),
    "g": (-2, -4, -5, -6, -7, -9),
    "h": (0, 0, 0, 0, 0, 0),
}
_LOWER_UM: dict[str, tuple[int, ...]] = {
    "k": (0, 1, 1, 1, 2, 2),
    "n": (4, 8, 10, 12, 15, 17),
    "p": (6, 12, 15, 18, 22, 26),
}
_COARSEST_K = 7  # k lies on the zero line in coarser grades
_CLASS = re.compile(r"([A-Za-z]+)([0-9]{1,2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A tolerance zone: how far a part may lie from its nominal size.

    Parameters
    ----------
    low_um, high_um : float
        Lower and upper deviation in micrometres.
    """

    low_um: float
    high_um: float

    @property
    def tolerance_um(self) -> float:
        """Width of the zone."""
        return self.high_um - self.low_um


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A hub's zone on a shaft's.

    Parameters
    ----------
    hub, shaft : Zone
        Deviations from the same nominal size.
    """

    hub: Zone
    shaft: Zone

    @property
    def low_um(self) -> float:
        """Smallest clearance within the limits, in micrometres; negative is interference."""
        return self.hub.low_um - self.shaft.high_um

    @property
    def high_um(self) -> float:
        """Largest clearance within the limits, in micrometres."""
        return self.hub.high_um - self.shaft.low_um

    @property
    def mean_um(self) -> float:
        """Clearance of two parts in the middle of their zones, in micrometres."""
        return (self.low_um + self.high_um) / 2


def step_index(nominal_mm: float) -> int:
    """Find the size step of a nominal size; 6 mm belongs to "over 3 up to and including 6"."""
    for index, (over, to) in enumerate(STEPS_MM):
        if over < nominal_mm <= to:
            return index
    raise InputError(
        Problem(
            place="nominal size",
            found=f"{nominal_mm} mm",
            allowed=f"over {STEPS_MM[0][0]:g} up to and including {STEPS_MM[-1][1]:g} mm",
        )
    )


def tolerance_um(nominal_mm: float, grade: int) -> int:
    """Look a standard tolerance up.

    Parameters
    ----------
    nominal_mm : float
        Nominal size, over 0 up to and including 50 mm.
    grade : int
        5 to 11, for IT5 to IT11.

    Returns
    -------
    int
        Tolerance in micrometres.

    Raises
    ------
    InputError
        Outside the table.
    """
    if grade not in TOLERANCE_UM:
        raise InputError(Problem(place="tolerance grade", found=f"IT{grade}", allowed="IT5 to IT11"))
    return TOLERANCE_UM[grade][step_index(nominal_mm)]


def tolerance_factor_um(over_mm: float, to_mm: float) -> float:
    """Compute the standard tolerance factor i of a size step.

    Parameters
    ----------
    over_mm, to_mm : float
        Ends of the step; the first one counts from 1 mm.

    Returns
    -------
    float
        ``0.45 D**(1/3) + 0.001 D`` in micrometres, D the geometric mean of the step's ends in millimetres.
    """
    mean_mm = math.sqrt(max(over_mm, 1.0) * to_mm)
    return 0.45 * math.pow(mean_mm, 1 / 3) + 0.001 * mean_mm


def zone(nominal_mm: float, tolerance_class: str) -> Zone:
    """Look a tolerance class up.

    Parameters
    ----------
    nominal_mm : float
        Nominal size, over 0 up to and including 50 mm.
    tolerance_class : str
        ``H5`` to ``H11`` for hubs; ``d``, ``f``, ``g``, ``h``, ``k``, ``n`` or ``p`` with the grade for shafts.

    Returns
    -------
    Zone

    Raises
    ------
    InputError
        For any other class, grade or size.
    """
    match = _CLASS.fullmatch(tolerance_class.strip())
    letter = match[1] if match else ""
    if match is None or letter not in {"H", *_UPPER_UM, *_LOWER_UM}:
        allowed = f"H for hubs, {', '.join([*_UPPER_UM, *_LOWER_UM])} for shafts, each with a grade 5 to 11"
        raise InputError(Problem(place="tolerance class", found=f"'{tolerance_class}'", allowed=allowed))
    grade = int(match[2])
    width = tolerance_um(nominal_mm, grade)
    step = step_index(nominal_mm)
    if letter == "H":
        return Zone(low_um=0, high_um=width)
    if letter in _UPPER_UM:
        upper = _UPPER_UM[letter][step]
        return Zone(low_um=upper - width, high_um=upper)
    lower = 0 if letter == "k" and grade > _COARSEST_K else _LOWER_UM[letter][step]
    return Zone(low_um=lower, high_um=lower + width)


def fit(nominal_mm: float, designation: str) -> Fit:
    """Look the limits of a fit up.

    Parameters
    ----------
    nominal_mm : float
        Nominal size, over 0 up to and including 50 mm.
    designation : str
        Hub class, stroke, shaft class: ``H9/h10``.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        Where either class is not in the tables, or the hub's is not an ``H``.
    """
    hub, stroke, shaft = designation.partition("/")
    if not stroke or not hub.strip().startswith("H") or shaft.strip().startswith("H"):
        allowed = "hub class / shaft class, such as H9/h10"
        raise InputError(Problem(place="fit", found=f"'{designation}'", allowed=allowed))
    return Fit(hub=zone(nominal_mm, hub), shaft=zone(nominal_mm, shaft))
