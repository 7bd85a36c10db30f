"""A store that holds fittings and what was heard of them, filled past the intake."""

import datetime
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from wearstats.store.database.connection import create_store, open_store

AS_OF = datetime.date(2026, 1, 1)
_COLUMNS = {
    "shafts": "shaft, pattern, duty, region",
    "hubs": "hub, pattern, undersize_um::double",
    "dispatches": "hub, sent_on::date, shaft, sent_as",
    "fittings": "fitting, shaft, hub, fitted_on, fitted_on::date, fitted_on::date, method, went_on, known_from::date",
    "follow_ups": "fitting, seen_on::date, state, prompted, cause",
    "returns": "hub, returned_on::date, reason, fitting",
    "stock_counts": "pattern, undersize_um::double, counted_on::date, on_hand::integer",
}
_NAMES = {
    name: columns.replace("::date", "").replace("::double", "").replace("::integer", "").replace(
        "fitted_on, fitted_on, fitted_on", "fitted_on, fitted_from, fitted_to"
    )
    for name, columns in _COLUMNS.items()
}  # fmt: skip


def make_store(path: Path, frames: Mapping[str, pd.DataFrame]) -> Path:
    """Make a store of frames; what a frame lacks is missing."""
    create_store(path)
    with open_store(path, write=True) as store:
        store.execute(
            "insert into intakes (intake, added_on, added_at, files, bulk) "
            "values (1, date '2026-01-01', timestamp '2026-01-01', 1, true)"
        )
        for name, frame in frames.items():
            wanted = [column.partition("::")[0] for column in _COLUMNS[name].split(", ")]
            whole = frame.reindex(columns=list(dict.fromkeys(wanted))).astype("str")
            with store.frame("rows", whole.where(whole.notna(), None)):
                store.execute(f"insert into {name} ({_NAMES[name]}, intake) select {_COLUMNS[name]}, 1 from rows")
    return path


def plain_frames() -> dict[str, pd.DataFrame]:
    """Forty fittings of two patterns, half as supplied; of those fitted in 2024 the outcome after a year is known.

    As supplied: 6 of 20 worked loose after five months, reported or found by asking; by hand 2 of 20. One fitting
    contradicts itself, and one hub would not go on.
    """
    numbers = range(42)
    fittings: list[dict[str, str]] = []
    dispatches: list[dict[str, str]] = []
    follow_ups: list[tuple[str, str, str, str, str | None]] = []
    for number in numbers:
        supplied = number % 2 == 0
        method = "as-supplied" if supplied else ("owner-fitted" if number % 4 == 1 else "workshop-fitted")
        names = {"shaft": f"S{number}", "hub": f"H{number}"}
        went_on = "would-not" if number == 41 else "slid-on"
        dispatches.append({**names, "sent_on": "2023-12-20", "sent_as": method})
        fittings.append(
            {"fitting": f"F{number}", **names, "fitted_on": "2024-01-01", "method": method, "went_on": went_on}
        )
        failed = number in (0, 4, 8, 12, 16, 20, 3, 7)
        if number == 41:
            continue
        if failed:
            prompted = "asked" if number in (0, 3, 4) else "unasked"
            follow_ups.append((f"F{number}", "2024-06-01", "loose", prompted, "flanks"))
        else:
            follow_ups.append((f"F{number}", "2025-03-01", "tight", "asked", None))
    follow_ups.append(("F40", "2024-02-01", "broken", "asked", "flanks"))
    shafts = pd.DataFrame({"shaft": [f"S{n}" for n in numbers]}).assign(region="carr", duty="daily")
    return {
        "shafts": shafts.assign(pattern=["D8" if n < 20 else "D10" for n in numbers]),
        "hubs": pd.DataFrame({"hub": [f"H{n}" for n in numbers], "pattern": "D8", "undersize_um": 50}),
        "dispatches": pd.DataFrame(dispatches),
        "fittings": pd.DataFrame(fittings),
        "follow_ups": pd.DataFrame(follow_ups, columns=["fitting", "seen_on", "state", "prompted", "cause"]),
    }


def shelf_counted(*days: str) -> dict[str, pd.DataFrame]:
    """Give an empty shelf, counted on some days: the records reach the last of them, though nothing happened."""
    return {"stock_counts": pd.DataFrame({"counted_on": days}).assign(pattern="D8", undersize_um=50, on_hand=0)}
