"""Standard straight-sided splines: the sizes of ISO 14 and the proportions of the SAE family.

References
----------
.. [1] ISO 14:1982, *Straight-sided splines for cylindrical shafts with internal centering*, tables 1 and 2; read in a
       reproduced table.
.. [2] SAE J499, straight-sided splines; obsolete for new design, common on old engines. The heights for six splines
       were read, the widths and the heights for ten are given from memory and closed by d = D - 2 h.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from wearstats.domain.tolerances.limits_fits import Fit, fit, zone
from wearstats.domain.units import um_to_mm
from wearstats.errors import InputError, Problem

Series = Literal["light", "medium"]
WidthFit = Literal["sliding", "close", "fixed"]
SaeFit = Literal["A", "B", "C"]

# N x d x D, and the width B in millimetres
_LIGHT = (
    "6x23x26 6, 6x26x30 6, 6x28x32 7, 8x32x36 6, 8x36x40 7, 8x42x46 8, 8x46x50 9, 8x52x58 10, 8x56x62 10, 8x62x68 12, "
    "10x72x78 12, 10x82x88 12, 10x92x98 14, 10x102x108 16, 10x112x120 18"
)
_MEDIUM = (
    "6x11x14 3, 6x13x16 3.5, 6x16x20 4, 6x18x22 5, 6x21x25 5, 6x23x28 6, 6x26x32 6, 6x28x34 7, 8x32x38 6, 8x36x42 7, "
    "8x42x48 8, 8x46x54 9, 8x52x60 10, 8x56x65 10, 8x62x72 12, 10x72x82 12, 10x82x92 12, 10x92x102 14, 10x102x112 16, "
    "10x112x125 18"
)
_BY = r" *[xX\u00d7*] *"
_STANDARD = r"(?:(?:DIN +)?ISO *14(?::1982)?(?: *- *| +))?"
_DESIGNATION = re.compile(
    rf"{_STANDARD}([0-9]{{1,3}})(?:{_BY}|[ -]*splines?,? +)([0-9]{{1,3}}){_BY}([0-9]{{1,3}})(?: *mm)?", re.IGNORECASE
)

DESIGNATION_IN_TEXT = re.compile(rf"(?<![0-9.,x]){_DESIGNATION.pattern}(?![0-9x])", re.IGNORECASE)
"""A designation, as `designation_of` takes it, somewhere in a text."""

WIDTH_CLASS: dict[WidthFit, str] = {"sliding": "d10", "close": "f9", "fixed": "h10"}
"""Tolerance class of the shaft's spline width; the hub's is H9, or H11 if treated after broaching [1]_."""

CENTRING_CLASS: dict[WidthFit, str] = {"sliding": "f7", "close": "g7", "fixed": "h7"}
"""Tolerance class of the shaft's minor diameter, on which the hub (H7) is centred [1]_."""

SAE_WIDTH: dict[int, float] = {4: 0.241, 6: 0.250, 10: 0.156, 16: 0.098}
"""Spline width as a part of the major diameter, by number of splines [2]_."""

SAE_HEIGHT: dict[int, dict[SaeFit, float]] = {
    6: {"A": 0.050, "B": 0.075, "C": 0.100},
    10: {"A": 0.045, "B": 0.070, "C": 0.095},
}
"""Flank height as a part of the major diameter; A permanent, B slides unloaded, C slides under load [2]_."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardSpline:
    """A standard spline's nominal sizes.

    Parameters
    ----------
    splines : int
        Number of splines.
    minor_mm, major_mm, width_mm : float
        Minor diameter d, major diameter D and spline width.
    series : {"light", "medium"} or None
        Series of ISO 14.
    """

    splines: int
    minor_mm: float
    major_mm: float
    width_mm: float
    series: Series | None = None

    @property
    def designation(self) -> str:
        """Splines, minor and major diameter: ``8x32x36``."""
        return f"{self.splines}x{self.minor_mm:g}x{self.major_mm:g}"


def _table(series: Series, rows: str) -> dict[str, StandardSpline]:
    table = {}
    for row in rows.split(", "):
        designation, width = row.split(" ")
        splines, minor, major = (int(number) for number in designation.split("x"))
        table[designation] = StandardSpline(
            splines=splines, minor_mm=minor, major_mm=major, width_mm=float(width), series=series
        )
    return table


ISO_14: dict[str, StandardSpline] = _table("light", _LIGHT) | _table("medium", _MEDIUM)
"""All sizes of ISO 14:1982 by designation [1]_."""


def designation_of(text: str) -> str | None:
    """Write splines, minor and major diameter as the standard does, ``6x26x32``; None where a text names none.

    Parameters
    ----------
    text : str
        ``8x36x40``, ``ISO 14 8 x 36 x 40``, ``6 splines 26 x 32``. Whether there is such a size `iso_14` says.
    """
    match = _DESIGNATION.fullmatch(" ".join(text.split()))
    return None if match is None else "x".join(str(int(number)) for number in match.groups())


def pattern_sizes(spline: StandardSpline) -> dict[str, float]:
    """Give the sizes of a standard spline as a pattern has them, in millimetres.

    Parameters
    ----------
    spline : StandardSpline
        Size.

    Returns
    -------
    dict
        Columns of the table of patterns. A new spline has the nominal width B, the upper limit of the fixed fit (h10);
        the standard hub's space the middle of its class H9, as broached and not treated afterwards. The standard does
        not say over which length hub and shaft engage: the minor diameter is assumed (common practice: 0.8 to 1.5
        times as long), which moves only the places at which the forms ask for readings.
    """
    space = zone(spline.width_mm, "H9")
    return {
        "splines": spline.splines,
        "width_mm": spline.width_mm,
        "space_width_mm": round(spline.width_mm + um_to_mm((space.low_um + space.high_um) / 2), 4),
        "minor_mm": spline.minor_mm,
        "major_mm": spline.major_mm,
        "engaged_mm": spline.minor_mm,
    }


def iso_14(designation: str, *, major_mm: float | None = None) -> StandardSpline:
    """Look a spline of ISO 14 up.

    Parameters
    ----------
    designation : str
        ``8x32x36``, with or without blanks and ``ISO 14`` before it.
    major_mm : float, optional
        Major diameter written beside the designation, if there is one.

    Returns
    -------
    StandardSpline

    Raises
    ------
    InputError
        Where there is no such size, and where the designation's own major diameter disagrees with the one beside it
        or with the table: neither is trusted then.
    """
    match = _DESIGNATION.fullmatch(" ".join(designation.split()))
    if match is None:
        allowed = "splines x minor x major diameter in mm, such as 8x32x36"
        raise InputError(Problem(place="spline designation", found=f"'{designation}'", allowed=allowed))
    splines, minor, major = (int(number) for number in match.groups())
    name = f"{splines}x{minor}x{major}"
    if major_mm is not None and major_mm != major:
        raise InputError(
            Problem(
                place="spline designation",
                found=f"'{designation}' says a major diameter of {major} mm, but {major_mm:g} mm stands beside it",
                allowed="one major diameter",
                next_step="trust neither; measure the shaft",
            )
        )
    if name in ISO_14:
        return ISO_14[name]
    near = [row for row in ISO_14.values() if (row.splines, row.minor_mm) == (splines, minor)]
    if near:
        majors = " or ".join(f"{row.major_mm:g}" for row in sorted(near, key=lambda row: row.major_mm))
        raise InputError(
            Problem(
                place="spline designation",
                found=f"'{designation}' says a major diameter of {major} mm, ISO 14 has {majors} for {splines}x{minor}",
                allowed=", ".join(row.designation for row in near),
                next_step="trust neither; measure the shaft",
            )
        )
    raise InputError(
        Problem(place="spline designation", found=f"'{designation}' is not in ISO 14:1982", allowed=", ".join(ISO_14))
    )


def standard_of(*, splines: int, width_mm: float, minor_mm: float, major_mm: float) -> StandardSpline | None:
    """Find the size of ISO 14 that has these sizes, in mm; None where there is none."""
    wanted = (splines, width_mm, minor_mm, major_mm)
    same = (row for row in ISO_14.values() if (row.splines, row.width_mm, row.minor_mm, row.major_mm) == wanted)
    return next(same, None)


def iso_14_width_fit(spline: StandardSpline, width_fit: WidthFit, *, treated: bool = False) -> Fit:
    """Give the limits of clearance between hub space and spline width.

    Parameters
    ----------
    spline : StandardSpline
        Size.
    width_fit : {"sliding", "close", "fixed"}
        How the hub is meant to sit.
    treated : bool
        Whether the hub is hardened after broaching, which widens its tolerance from H9 to H11.

    Returns
    -------
    Fit
    """
    return fit(spline.width_mm, f"{'H11' if treated else 'H9'}/{WIDTH_CLASS[width_fit]}")


def iso_14_centring_fit(spline: StandardSpline, width_fit: WidthFit) -> Fit:
    """Give the limits of clearance on the minor diameter, up to 50 mm, where ISO 14 centres the hub."""
    return fit(spline.minor_mm, f"H7/{CENTRING_CLASS[width_fit]}")


def sae_spline(splines: int, major: float, sae_fit: SaeFit) -> tuple[float, float, float]:
    """Give the proportions of an SAE straight-sided spline.

    Parameters
    ----------
    splines : int
        6 or 10.
    major : float
        Major diameter in any unit of length.
    sae_fit : {"A", "B", "C"}
        A permanent, B slides unloaded, C slides under load.

    Returns
    -------
    width, minor, height : float
        Spline width, minor diameter and flank height in the unit of `major`; always minor = major - 2 height.

    Raises
    ------
    InputError
        For other numbers of splines or fits; for 4 and 16 splines only the width is kept (`SAE_WIDTH`).
    """
    heights = SAE_HEIGHT.get(splines, {})
    if sae_fit not in heights:
        allowed = f"{' or '.join(str(number) for number in SAE_HEIGHT)} splines with fit A, B or C"
        raise InputError(Problem(place="SAE spline", found=f"{splines} splines, fit '{sae_fit}'", allowed=allowed))
    height = heights[sae_fit] * major
    return SAE_WIDTH[splines] * major, major - 2 * height, height


def torque_capacity(*, pressure: float, splines: int, mean_radius: float, height: float, length: float) -> float:
    """Compute the torque at which a pressure acts on the driving flanks, all bearing alike.

    Parameters
    ----------
    pressure : float
        On the flanks; 1000 psi by the SAE family's custom.
    splines : int
        Number of splines, each with one driving flank.
    mean_radius, height, length : float
        Mean radius, flank height and engaged length, in one unit of length.

    Returns
    -------
    float
        ``pressure N r_m h L``: pound-inches from psi and inches, newton-millimetres from megapascals and millimetres.
        Worn splines never bear all alike: see `wearstats.domain.contact.share_load`.
    """
    return pressure * splines * mean_radius * height * length
