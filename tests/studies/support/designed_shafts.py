"""Shafts of which a fitter knows the answer, added to the demo's store through the intake.

Every reading is the stated true map, with a small fixed scatter and what its measurer reads too large. All is invented.
"""

from __future__ import annotations

import datetime
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from wearstats.domain.units import UM_PER_UNIT
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_frames
from wearstats.store.intake.reports import IntakeReport

MEASURED = datetime.date(2026, 9, 20)
STATIONS = ("shoulder", "middle", "nut-end")
NEW_UM = {"D8": 6000.0, "D10": 5448.0}
SPLINES = {"D8": 8, "D10": 10}

Lost = Sequence[float]
"""What shoulder, middle and nut end have lost, in um."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One inspection as its measurer wrote it.

    Parameters
    ----------
    lost_um : three numbers
        What the shaft has lost at its stations, the same on every spline.
    by : str
        Who measured; a name for each sheet where it is empty, so that nobody's habit is known from elsewhere.
    reads_um : float
        How much too large he reads.
    gauge, unit : str
        What with, and how it is written.
    workshop : bool
        Whether in the workshop.
    check : bool
        Whether a check piece of 6 mm was measured too, with the same error.
    condition : str
        What was seen.
    remark : str
        What stands in a column that no table has.
    slips : dict of (spline, station) to text
        What is written instead of the reading.
    scatter_um : float
        Size of the scatter.
    days_before : int
        How many days before the day of the others.
    """

    lost_um: Lost
    by: str = ""
    reads_um: float = 0.0
    gauge: str = "d-mic"
    unit: str = "mm"
    workshop: bool = False
    check: bool = False
    condition: str = ""
    remark: str = ""
    slips: dict[tuple[int, str], str | Callable[[str], str]] | None = None
    scatter_um: float = 1.5
    days_before: int = 0


GAUGES = pd.DataFrame(
    {
        "gauge": ["d-mic", "d-shop", "d-cal", "d-inch"],
        "kind": ["micrometer-flat", "micrometer-blade", "caliper", "micrometer-flat"],
        "unit": ["mm", "mm", "mm", "in"],
        "resolution": ["0.001", "0.001", "0.01", "0.0001"],
    }
)


def write_sheet(name: str, shaft: str, pattern: str, sheet: Sheet) -> tuple[dict[str, str], list[dict[str, str]]]:
    """Give the rows of an inspection and of its readings."""
    day = MEASURED - datetime.timedelta(days=sheet.days_before)
    row = {
        "inspection": name,
        "shaft": shaft,
        "measured_on": day.isoformat(),
        "measured_by": sheet.by or f"d-owner {name}",
        "measured_at": "workshop" if sheet.workshop else "home",
        "gauge": "d-shop" if sheet.workshop else sheet.gauge,
        "unit": sheet.unit,
        "spline_1_marked": "yes",
        "condition": sheet.condition,
        "remark": sheet.remark,
        "check_piece": "6.000" if sheet.check else "",
        "check_reading": _written(6000 + sheet.reads_um, sheet) if sheet.check else "",
    }
    readings = []
    for spline in range(1, SPLINES[pattern] + 1):
        for place, station in enumerate(STATIONS):
            # as a hand scatters, but the same on every machine: sums to about nothing along and round the shaft
            off = sheet.scatter_um * ((3 * spline + 2 * place + spline * place) % 5 - 2) / 1.4
            width = _written(NEW_UM[pattern] - sheet.lost_um[place] + sheet.reads_um + off, sheet)
            slip = (sheet.slips or {}).get((spline, station))
            if slip is not None:
                width = slip if isinstance(slip, str) else slip(width)
            readings.append({"inspection": name, "spline": str(spline), "station": station, "width": width})
    return row, readings


def _written(um: float, sheet: Sheet) -> str:
    if sheet.unit == "in":
        return f"{um / float(UM_PER_UNIT['in']):.4f}"
    return f"{um / 1000:.2f}" if sheet.gauge == "d-cal" else f"{um / 1000:.3f}"


def moved(um: float) -> Callable[[str], str]:
    """Give the slip that writes so much more, in mm."""
    return lambda width: f"{float(width) + um / 1000:.3f}"


def digits_swapped(width: str) -> str:
    """Exchange the second and the third figure: 5.913 for 5.193."""
    return width[:2] + width[3] + width[2] + width[4:]


_HOME = Sheet(lost_um=(40, 40, 40), check=True)


def _home(*lost_um: float, **told: object) -> Sheet:
    return Sheet(lost_um=lost_um, **({"check": True} | told))  # type: ignore[arg-type]


D8_SHEETS: dict[str, list[Sheet]] = {
    "new": [_home(0, 0, 0)],
    "evenly worn": [_home(40, 40, 40)],
    "hollow": [_home(5, 53, 5)],
    "wide at the nut": [_home(70, 40, 5)],
    "wide at the shoulder": [_home(5, 40, 70)],
    "one flank": [_home(40, 40, 40)],
    "cracked": [_home(40, 40, 40, condition="cracked")],
    "cracked and sound": [
        _home(40, 40, 40, condition="cracked", days_before=30),
        _home(40, 40, 40, condition="sound", by="d-owner again"),
    ],
    "remarked cracked": [_home(40, 40, 40, remark="cracked at the root")],
    "remarked sound": [_home(40, 40, 40, remark="no cracks seen")],
    "bruised": [_home(40, 40, 40, condition="bruised")],
    "twisted": [_home(40, 40, 40, condition="twisted")],
    "inches": [_home(40, 40, 40, gauge="d-inch", unit="in", check=False)],
    "millimetres": [_home(40, 40, 40, check=False)],
    "reads small": [_home(40, 40, 40, reads_um=-18, check=False)],
    "reads small, checked": [_home(40, 40, 40, reads_um=-18)],
    "contradicting": [_home(40, 40, 40, days_before=5), _home(110, 110, 110)],
    "calipers": [_home(40, 40, 40, gauge="d-cal", check=False, scatter_um=7)],
    "far beyond": [_home(210, 210, 210)],
    "much too far beyond": [_home(420, 420, 420)],
    "figures swapped": [_home(85, 85, 85, slips={(3, "middle"): digits_swapped})],
    "one turn": [_home(40, 40, 40, slips={(5, "shoulder"): moved(-500)})],
    "one turn up": [_home(40, 40, 40, slips={(5, "shoulder"): moved(500)})],
    "all a turn": [_home(540, 540, 540, check=False)],
    "line to line": [Sheet(lost_um=(-10, -10, -10), workshop=True)],
    "for the gauged hub": [Sheet(lost_um=(108, 108, 108), workshop=True)],
    "scrapped": [_home(40, 40, 40)],
    "tight hub": [_home(40, 40, 40, days_before=200)],
    "loose hub": [_home(40, 40, 40, days_before=200)],
    "rows kept out": [_home(40, 40, 40, slips={(2, "middle"): "5.9b"})],
    "small stray": [_home(30, 45, 60, slips={(2, "middle"): moved(-32)})],
    "all equal": [_home(40, 40, 40, scatter_um=0)],
}
D10_SHEETS: dict[str, list[Sheet]] = {
    "ten evenly worn": [_home(40, 40, 40)],
    "ten hollow": [_home(5, 55, 5)],
    "ten new": [_home(0, 0, 0)],
    "ten one turn": [_home(30, 30, 30, slips={(7, "nut-end"): moved(-500)})],
}
SHEETS = D8_SHEETS | D10_SHEETS
DESIGNED = tuple(SHEETS)

GAUGED_HUB = "d-gauged"
"""A hub on the shelf, gauged 2 um narrower than the shaft it is right for, among others of its size."""
_SHELF_MM = {"d-wide": 5.898, "d-less wide": 5.896, GAUGED_HUB: 5.890, "d-1": 5.882, "d-2": 5.880, "d-3": 5.878}


def shaft_name(label: str) -> str:
    """Name a designed shaft as in the store: the label tells nothing."""
    return f"D{DESIGNED.index(label) + 1:03d}"


def designed_frames() -> dict[str, pd.DataFrame]:
    """Give all rows."""
    inspections, readings = [], []
    for label, sheets in SHEETS.items():
        for at, sheet in enumerate(sheets):
            shaft = shaft_name(label)
            row, read = write_sheet(f"{shaft}-{at + 1}", shaft, _pattern(label), sheet)
            inspections.append(row)
            readings += read
    ran = [("tight hub", "d-tight", "tight"), ("loose hub", "d-loose", "loose")]
    day = (MEASURED - datetime.timedelta(days=180)).isoformat()
    shelf = [
        {"hub": hub, "pattern": "D8", "undersize_um": "125", "space_width_mm": f"{mm:.3f}", "space_u_um": "1.0"}
        for hub, mm in _SHELF_MM.items()
    ]
    hubs = [*shelf, *({"hub": hub, "pattern": "D8", "undersize_um": "50"} for _, hub, _ in ran)]
    return {
        "gauges": GAUGES,
        "shafts": pd.DataFrame({"shaft": [shaft_name(label) for label in SHEETS]}).assign(
            pattern=[_pattern(label) for label in SHEETS], duty="daily"
        ),
        "shaft_events": pd.DataFrame(
            {"shaft": [shaft_name("scrapped")], "happened_on": [MEASURED.isoformat()], "what": ["scrapped"]}
        ),
        "inspections": pd.DataFrame(inspections),
        "readings": pd.DataFrame(readings),
        "hubs": pd.DataFrame(hubs),
        "dispatches": pd.DataFrame(
            [
                {"hub": hub, "sent_on": day, "shaft": shaft_name(label), "sent_as": "owner-fitted"}
                for label, hub, _ in ran
            ]
        ),
        "fittings": pd.DataFrame(
            [
                {
                    "fitting": f"F-{hub}", "shaft": shaft_name(label), "hub": hub, "fitted_on": day,
                    "method": "owner-fitted", "went_on": "pulled-on",
                }
                for label, hub, _ in ran
            ]
        ),
        "follow_ups": pd.DataFrame(
            [
                {"fitting": f"F-{hub}", "seen_on": MEASURED.isoformat(), "state": state, "prompted": "asked"}
                for _, hub, state in ran
            ]
        ),
    }  # fmt: skip


def _pattern(label: str) -> str:
    return "D10" if label in D10_SHEETS else "D8"


def make_designed(path: Path, demo_file: Path, *, added_on: datetime.date) -> IntakeReport:
    """Make the store; one row is kept out, and is meant to be."""
    shutil.copy(demo_file, path)
    with open_store(path, write=True) as store:
        return add_frames(store, designed_frames(), added_on=added_on)
