"""A fitting sheet made by hand, as large as wanted."""

from __future__ import annotations

import datetime
from typing import Any

from tests.report.support.made_studies import candidate
from wearstats.analysis.advice.remarks import Finding, First, Reason
from wearstats.analysis.advice.rule import Decision
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.pattern import Pattern
from wearstats.studies.shaft.answer import Advice
from wearstats.studies.shaft.fitting_sheet import BindingSpline, FittingSheet

OFF = Estimate(value=22.0, low=16.0, high=29.0)
CRACKED = remark(Finding.CRACKED, inspections="I7")


def advice(*first: tuple[First, Remark], undersize_um: float = 50.0) -> Advice:
    """Give the advice to send a hub, once what comes first is done."""
    hub = candidate(undersize_um, "owner-fitted", minutes=54.0)
    then = Decision(chosen=hub, because=(remark(Reason.CHEAPEST, limit=0.05),))
    because = (*(told for _, told in first), *then.because)
    return Advice(first=first[0][0] if first else None, then=then, because=because)


def row(spline: int, rank: int | None, *off_um: float) -> BindingSpline:
    """Give one spline's row, from the shoulder end to the nut face."""
    return BindingSpline(
        spline=spline, rank=rank, off_um=tuple(Estimate(value=um, low=0.0, high=um + 9) for um in off_um)
    )


def fitting_sheet(pattern: Pattern, splines: tuple[BindingSpline, ...], **changed: Any) -> FittingSheet:
    """Give the sheet of a hub 50 µm undersize on a shaft."""
    known: dict[str, Any] = {
        "as_of": datetime.date(2026, 9, 30),
        "shaft": "S<1>",
        "hub": "H 1/2",
        "pattern": pattern,
        "undersize_um": 50.0,
        "gauged": True,
        "space_um": -40.0,
        "as_advised": True,
        "unit": "mm",
        "splines": splines,
        "jams_at": "nut-end",
        "jams_on": (2,),
        "doubt_um": 6.0,
        "mean_off_um": OFF,
        "marks": pattern.splines + 1,
        "advice": advice(),
    }
    return FittingSheet(**(known | changed))
