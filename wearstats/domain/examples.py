"""One right value for every column: what a refusal shows beside what was wrong, and what the list of columns shows.

The examples of a table belong together: a shaft P-17 of the pattern 8x36x40, measured with a metric micrometer.
"""

from __future__ import annotations

from collections.abc import Iterable

from wearstats.domain.tables import Column, Table

_BY_NAME = {
    "pattern": "8x36x40",
    "splines": "8",
    "width_mm": "7.000",
    "space_width_mm": "7.018",
    "minor_mm": "36",
    "major_mm": "40",
    "engaged_mm": "36",
    "register_mm": "34",
    "stations": "shoulder;middle;nut-end",
    "pull_on_mm": "5",
    "grid_um": "5",
    "lead_days": "35",
    "batch_size": "20",
    "deepest_um": "150",
    "engine_type": "twin 40",
    "gauge": "G-3",
    "resolution": "0.01",
    "checked_on": "2026-09-01",
    "shaft": "P-17",
    "engine": "pump 4",
    "region": "saltings",
    "duty": "daily",
    "first_seen_on": "2026-11-20",
    "happened_on": "2026-11-20",
    "inspection": "I-17",
    "measured_on": "2026-11-20",
    "measured_by": "Jan",
    "hours": "4500",
    "register": "33.99",
    "major": "39.85",
    "check_piece": "7.000",
    "check_reading": "7.01",
    "piece": "CP-2",
    "size_mm": "7.0012",
    "size_u_um": "0.5",
    "back_on": "2027-01-10",
    "photo": "P-3f9a1c07b2d4",
    "taken_on": "2026-12-02",
    "file_name": "marks.jpg",
    "sha256": "3f9a1c07b2d4e5f60718293a4b5c6d7e8f90a1b2c3d4e5f60718293a4b5c6d7e",
    "bytes": "482113",
    "condition": "sound",
    "spline": "1",
    "station": "middle",
    "trial": "1",
    "width": "6.98",
    "batch": "B-12",
    "undersize_um": "50",
    "made_on": "2026-10-01",
    "quantity": "20",
    "go_mm": "6.960",
    "no_go_mm": "6.975",
    "material": "42CrMo4",
    "hub": "H-204",
    "space_u_um": "2",
    "gauged_on": "2026-10-05",
    "space": "1",
    "sent_on": "2026-11-25",
    "order": "O-88",
    "fitting": "F-31",
    "fitted_on": "2026-12-02",
    "inspections": "I-17",
    "pulled_mm": "4",
    "drive_marked": "7",
    "coast_marked": "6",
    "play_um": "10",
    "filing_min": "40",
    "compound": "none",
    "refit_of": "F-12",
    "known_from": "2026-12-02",
    "seen_on": "2027-03-01",
    "failed_on": "2027-02-14",
    "returned_on": "2026-12-10",
    "ordered_on": "2026-11-20",
    "asked_undersize_um": "50",
    "from_on": "2026-01-01",
    "to_on": "2026-12-31",
    "counted_on": "2026-11-01",
    "on_hand": "12",
    "amount": "350",
    "currency": "EUR",
    "owner": "C-41",
    "back_by": "2027-01-15",
    "withdrawn_on": "2026-11-01",
    "withdrawn_because": "spaces too wide",
}
_BY_KIND = {
    "text": "A-1",
    "number": "1",
    "integer": "1",
    "date": "2026-11-20",
    "day_or_month": "2026-11",
    "yes_no": "yes",
    "list": "A-1",
    "width": "6.98",
}


def example_of(column: Column) -> str:
    """Give one right value for a column."""
    if column.name in _BY_NAME:
        return _BY_NAME[column.name]
    return column.choices[0] if column.choices else _BY_KIND[column.kind]


def example_lines(table: Table, *, besides: Iterable[str] = ()) -> str:
    """Give a right first line of a file and a right row below it, set apart by `` / ``.

    Parameters
    ----------
    table : Table
        The table of the file.
    besides : iterable of str
        Columns wanted besides those that are required.
    """
    columns = [column for column in table.columns if column.required or column.name in besides]
    return f"{','.join(column.name for column in columns)} / {','.join(example_of(column) for column in columns)}"


def example_said(names: Iterable[str], tables: Iterable[Table]) -> str:
    """Give right lines ``column: value`` as they stand above a sheet's rows, set apart by `` / ``."""
    columns = {column.name: column for table in tables for column in table.columns}
    return " / ".join(f"{name}: {example_of(columns[name])}" for name in names if name in columns)
