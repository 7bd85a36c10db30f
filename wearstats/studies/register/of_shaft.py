"""Whether the hub that is sent goes over a shaft's register, and what has to be done to its bore before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import pandas as pd

from wearstats.analysis.register.bores import bore_over, pressed_by
from wearstats.analysis.register.remarks import BoreRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.domain.pattern import Pattern
from wearstats.domain.tolerances.limits_fits import MOST_MM
from wearstats.studies.snapshot import Snapshot

_EVENLY: Final = 12.0**0.5
_PROUD_UM: Final = 50.0
"""A major diameter read so much over the pattern's own is no slip of a thousandth; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """A shaft's register.

    Parameters
    ----------
    mm : float
        The mean of what was read.
    u_um : float
        Its standard uncertainty, as readings of widths scatter, which those of a register are taken to do too.
    new_mm : float
        That of a new shaft.
    """

    mm: float
    u_um: float
    new_mm: float

    def over(self, bore_mm: float | None) -> tuple[Remark, ...]:
        """Say what to do with a bore before posting, None where it is not on record; then what to beware of."""
        told = bore_over(self.mm, self.u_um, bore_mm, new_mm=self.new_mm)
        pressed = pressed_by(self.mm, bore_mm) if bore_mm is not None and told.code == BoreRemark.TURN else None
        return (told,) if pressed is None else (told, pressed)


def register_of(in_hand: pd.DataFrame, fit: WidthFit, pattern: Pattern) -> Register | None:
    """Give a shaft's register.

    Parameters
    ----------
    in_hand : DataFrame
        The shaft's inspections since the last hub came off: ``register_mm``, ``class``, ``step_um``.
    fit : WidthFit
        How readings scatter.
    pattern : Pattern

    Returns
    -------
    Register or None
        None where none was read, the pattern has none, or it is beyond the tables of tolerances.
    """
    read = in_hand[in_hand["register_mm"].notna()]
    if pattern.register_mm is None or read.empty or not 0 < read["register_mm"].mean() <= MOST_MM:
        return None
    of_class = str(read["class"].iloc[0])
    measurer, inspection, reading = (
        fit.components_um[f"{name}_{of_class}"].value or 0.0 for name in ("measurer", "inspection", "repeatability")
    )
    rounding = float(read["step_um"].max()) / _EVENLY
    # one hand's bias does not average out
    variance = measurer**2 + (inspection**2 + reading**2 + rounding**2) / len(read)
    return Register(mm=float(read["register_mm"].mean()), u_um=float(variance**0.5), new_mm=pattern.register_mm)


def bore_on_record(snapshot: Snapshot, hub: str | None) -> float | None:
    """Read the bore of a hub of the shelf; None where none is named, or its bore is not on record."""
    known = [] if hub is None else snapshot.query("register/bore", hub=hub)["register_mm"].dropna().tolist()
    return float(known[0]) if known else None


def proud_major(majors_mm: Sequence[float], pattern: Pattern) -> tuple[Remark, ...]:
    """Warn where a major diameter reads over the pattern's: a burr, or another shaft."""
    most = max(majors_mm, default=0.0)
    over_um = 1000 * (most - pattern.major_mm)
    return (remark(BoreRemark.MAJOR_PROUD, major_mm=most, over_um=over_um),) if over_um > _PROUD_UM else ()
