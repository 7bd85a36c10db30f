"""Which bore goes over a register: for a batch, over nearly all on record; for one hub, over the shaft it is sent to.

References
----------
.. [1] ISO 286-1:2010, table 1: standard tolerances; a bore within H7 on a shaft within h6 slides, with the sum of both
   as its largest clearance.
.. [2] JCGM 100:2008 (GUM), 5.1.2: doubts of independent sizes add by squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearstats.analysis.register.remarks import BoreRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.tolerances.limits_fits import MOST_MM, tolerance_um
from wearstats.domain.tolerances.press_fit import press_fit

_HOLE, _SHAFT = 7, 6
"""Grades of bore and register: what a shop turns as a rule; common practice, no source."""
_FEWEST_SHAFTS: Final = 5
_WORN_SHARE: Final = 0.05
"""Share of the registers on record on which the bore may be looser than a standard sliding fit."""
_STEP_MM: Final = 0.01
_SURE: Final = 2.0
"""So many standard uncertainties are both doubts together."""
BORE_U_UM: Final = 5.0
"""Standard uncertainty of a hub's own bore, measured in the workshop (judgement)."""

_MOST_WORN_MM, _MOST_GROWN_MM = 0.5, 0.05
"""So far a register may be from that of a new shaft: it is worn by tenths and never grows, but for the error of reading
(common practice, no source; the check of inspections has the like)."""

_MODULUS_MPA: Final = 207_000.0
_YIELD_MPA: Final = 350.0
"""About what plain steel bears round a bore before it stays stretched (judgement)."""
_HUB_OUTSIDE: Final = 1.6
"""Outside diameter of a hub, in registers (judgement): only for saying how hard a tight bore presses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """Limits of a bore over the register.

    Parameters
    ----------
    low_mm, high_mm : float or None
        The upper one is None where no tolerance is on hand for so large a bore.
    why : Remark
        What it follows from.
    """

    low_mm: float
    high_mm: float | None
    why: Remark


def bore_for_batch(register_mm: FloatArray, pattern_mm: float) -> Bore:
    """Give a bore that is no looser on nearly all registers than a standard sliding fit, and may have to be turned.

    Too tight a bore is turned wider, too wide a one is lost. A bore within H7 over a register of h6 has at most both
    tolerances as clearance [1]_; the bore is so small that nineteen in twenty registers on record have no more.

    Parameters
    ----------
    register_mm : ndarray, shape (shafts,)
        Registers as read.
    pattern_mm : float
        Register of a new shaft: the bore begins at that at most.
    """
    if pattern_mm > MOST_MM:
        return Bore(low_mm=pattern_mm, high_mm=None, why=remark(BoreRemark.BEYOND_TABLES, most_mm=MOST_MM))
    hole_um, shaft_um = (tolerance_um(pattern_mm, grade) for grade in (_HOLE, _SHAFT))
    low, why = pattern_mm, remark(BoreRemark.OF_PATTERN, shafts=register_mm.size)
    if register_mm.size >= _FEWEST_SHAFTS:
        needed = float(np.quantile(register_mm, _WORN_SHARE)) + shaft_um / 1000
        low = min(_down(needed), pattern_mm)
        turned = float((register_mm > low).mean())
        why = remark(BoreRemark.OF_READINGS, shafts=register_mm.size, turned=turned, widest_mm=float(register_mm.max()))
    return Bore(low_mm=round(low, 4), high_mm=round(low + hole_um / 1000, 4), why=why)


def bore_over(register_mm: float, u_um: float, bore_mm: float | None, *, new_mm: float) -> Remark:
    """Say what to do with a hub's bore before it is sent.

    Parameters
    ----------
    register_mm : float
        The shaft's register as read, 0 to `MOST_MM`.
    u_um : float
        Its standard uncertainty.
    bore_mm : float or None
        The hub's bore; None where not on record.
    new_mm : float
        Register of a new shaft.

    Returns
    -------
    Remark
        ``turn-bore`` where it is surely too tight, ``bore-too-wide`` where it is surely looser than a sliding fit,
        ``measure-register-again`` where it reads too tight and not surely so, ``bore-goes-over`` else; ``turn-bore-to``
        where the hub's bore is not on record. "Surely" is by more than both doubts [2]_. ``register-far-from-new``
        before all of these: a cut rests on no figure that is probably a slip.
    """
    hole_um, shaft_um = (tolerance_um(register_mm, grade) for grade in (_HOLE, _SHAFT))
    if not -_MOST_WORN_MM <= register_mm - new_mm <= _MOST_GROWN_MM:
        return remark(BoreRemark.FAR, register_mm=register_mm, new_mm=new_mm)
    if bore_mm is None:
        high = register_mm + hole_um / 1000
        return remark(BoreRemark.TURN_TO, low_mm=register_mm, high_mm=high, doubt_um=_SURE * u_um)
    over_um = 1000 * (register_mm - bore_mm)
    doubt_um = _SURE * math.hypot(u_um, BORE_U_UM)
    facts = {"register_mm": register_mm, "bore_mm": bore_mm, "doubt_um": doubt_um}
    if over_um > doubt_um:
        # into the middle of its limits, in hundredths
        by = math.ceil((over_um + hole_um / 2) / 1000 / _STEP_MM - 0.5) * _STEP_MM
        return remark(BoreRemark.TURN, by_mm=round(by, 4), to_mm=round(bore_mm + by, 4), **facts)
    if over_um < -(hole_um + shaft_um + doubt_um):
        return remark(BoreRemark.TOO_WIDE, loose_um=-over_um, **facts)
    if over_um > 0:
        return remark(BoreRemark.MEASURE_REGISTER, over_um=over_um, **facts)
    return remark(BoreRemark.GOES_OVER, loose_um=-over_um, **facts)


def pressed_by(register_mm: float, bore_mm: float) -> Remark | None:
    """Say how a bore that is too tight would press, were it forced on; None where it is not.

    Thick rings after Lame, a solid shaft and a hub of an assumed outside diameter: an order of size, as a caution.
    """
    over = register_mm - bore_mm
    if over <= 0:
        return None
    pressed = press_fit(
        interference_mm=over,
        register_mm=register_mm,
        hub_outside_mm=_HUB_OUTSIDE * register_mm,
        length_mm=1.0,
        modulus_mpa=_MODULUS_MPA,
        friction=0.0,
    )
    if pressed.hub_hoop_mpa > _YIELD_MPA:
        return remark(BoreRemark.BURSTS, over_um=1000 * over)
    return remark(
        BoreRemark.PRESSES, pressure_mpa=pressed.pressure_mpa, hoop_mpa=pressed.hub_hoop_mpa, outside=_HUB_OUTSIDE
    )


def _down(mm: float) -> float:
    """Give the hundredth below, but for what binary fractions make of a hundredth."""
    return math.floor(mm / _STEP_MM + 1e-6) * _STEP_MM
