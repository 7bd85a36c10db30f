"""A store of one shaft, its two inspections and two hubs: small enough to count by hand."""

from __future__ import annotations

import datetime
import functools
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.domain.tables import TABLES
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.store.intake.reports import IntakeReport

LOADED_ON = datetime.date(2026, 2, 1)
LATE = datetime.date(2026, 12, 31)
Rows = Mapping[str, Sequence[Mapping[str, str | None]]]

PATTERN: dict[str, str | None] = {
    "pattern": "D8",
    "splines": "8",
    "width_mm": "6.000",
    "space_width_mm": "6.010",
    "minor_mm": "32",
    "major_mm": "36",
    "engaged_mm": "28",
}


def readings_of(inspection: str, widths: list[str], *, station: str = "middle") -> list[dict[str, str | None]]:
    """Give one reading a spline, from spline 1."""
    return [
        {"inspection": inspection, "spline": str(number), "station": station, "width": width}
        for number, width in enumerate(widths, start=1)
    ]


def inspection(name: str, **changed: str | None) -> dict[str, str | None]:
    """Give an inspection of S1 at home, in mm."""
    return {
        "inspection": name,
        "shaft": "S1",
        "measured_on": "2026-01-05",
        "measured_by": "owner-1",
        "measured_at": "home",
        "gauge": "G1",
        "unit": "mm",
    } | changed


def fitting(name: str, hub: str, fitted_on: str | None, **changed: str | None) -> dict[str, str | None]:
    """Give a fitting on S1."""
    return {"fitting": name, "shaft": "S1", "hub": hub, "fitted_on": fitted_on, "method": "owner-fitted"} | changed


def small_rows() -> dict[str, list[dict[str, str | None]]]:
    """Give rows in which nothing looks wrong: a hub that worked loose after two months, and the one after it."""
    widths = ["5.981", "5.973", "5.968", "5.979", "5.977", "5.983", "5.962", "5.976"]
    return {
        "patterns": [dict(PATTERN)],
        "gauges": [{"gauge": "G1", "kind": "micrometer-flat", "unit": "mm", "resolution": "0.001"}],
        "shafts": [{"shaft": "S1", "pattern": "D8", "engine": "carr pump 1", "region": "carr"}],
        "inspections": [inspection("I1"), inspection("I2", measured_on="2026-03-20")],
        "readings": readings_of("I1", widths) + readings_of("I2", widths),
        "batches": [
            {"batch": "B1", "pattern": "D8", "undersize_um": "50", "made_on": "2025-12-01", "quantity": "10"},
        ],
        "hubs": [
            {"hub": "H1", "pattern": "D8", "undersize_um": "50", "batch": "B1"},
            {"hub": "H2", "pattern": "D8", "undersize_um": "50", "batch": "B1"},
        ],
        "dispatches": [{"hub": "H1", "sent_on": "2026-01-10", "shaft": "S1", "inspection": "I1"}],
        "fittings": [
            fitting("F1", "H1", "2026-01-20", inspections="I1"),
            fitting("F2", "H2", "2026-03-25", inspections="I1;I2"),
        ],
        "follow_ups": [
            {"fitting": "F1", "seen_on": "2026-02-20", "state": "tight"},
            {"fitting": "F1", "seen_on": "2026-03-18", "state": "loose", "cause": "flanks"},
        ],
        "returns": [{"hub": "H1", "returned_on": "2026-03-30", "reason": "worked-loose", "fitting": "F1"}],
    }


def add(store: Store, rows: Rows, *, added_on: datetime.date = LOADED_ON, correct: bool = False) -> IntakeReport:
    """Add rows through intake; none may be kept out."""
    frames = {name: pd.DataFrame(list(items), dtype=object) for name, items in rows.items() if items}
    report = add_frames(store, frames, added_on=added_on, correct=correct)
    assert report.kept_out == 0, report.to_dict()
    return report


def make_store(path: Path, rows: Rows | None = None) -> Path:
    """Make a store of rows, as a first load; that of the small rows is loaded once and copied."""
    if rows is None:
        with path.open("xb") as made:
            made.write(_small_store())
        return path
    create_store(path)
    with open_store(path, write=True) as store:
        add(store, rows)
    return path


@functools.cache
def _small_store() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        return make_store(Path(folder) / "small.duckdb", small_rows()).read_bytes()


def contents(store: Store, *, intakes: bool = False) -> dict[str, list[tuple[Any, ...]]]:
    """Give the rows of every table that files fill, with their notes and sums, in an order of their own."""
    left_out = "" if intakes else " exclude (intake)"
    tables = [table.name for table in TABLES] + ["notes"]
    held = {name: store.rows(f"select *{left_out} from {name}") for name in tables}
    held |= {name: store.rows(f"select * from {name}") for name in ("inspection_moments", "reading_counts")}
    return {name: sorted(rows, key=repr) for name, rows in held.items()}
