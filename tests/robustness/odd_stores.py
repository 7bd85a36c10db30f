"""Small stores as no shop means them: one of everything, none of something, all alike, dates and names that are odd.

All is invented. Each store is a function of a plain fleet's tables to those that go through the intake.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pandas as pd

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_frames

AS_OF = datetime.date(2026, 6, 30)
STATIONS = ("shoulder", "middle", "nut-end")
ODD_NAMES = ("nan", "NULL", "None", "inf", "NaT", "true", "-1", "1e5", "0", "NA")

Tables = dict[str, list[dict[str, Any]]]


def _day(start: str, days: int) -> str:
    return (datetime.date.fromisoformat(start) + datetime.timedelta(days=days)).isoformat()


def fleet(
    number: int = 24,
    *,
    names: Callable[[int], str] = "S{:02d}".format,
    splines: int = 6,
    stations: tuple[str, ...] = STATIONS,
    inch: bool = False,
    kind: str = "micrometer-flat",
    fail_every: int = 4,
    new_mm: float = 5.0,
    worn_um: Callable[[int], float] = lambda at: 5.0 + 3.0 * (at * 7 % 13),
    scatter_um: float = 2.0,
    again: bool = True,
    begin: str = "2024-02-01",
) -> Tables:
    """Make the tables of a shop with so many shafts, measured twice, with a hub each, of which some worked loose."""
    unit, step = ("in", 25400.0) if inch else ("mm", 1000.0)
    decimals = 5 if inch else 3
    tables: Tables = {
        "patterns": [
            {"pattern": "P", "splines": splines, "width_mm": new_mm, "space_width_mm": new_mm + 0.02, "minor_mm": 28,
             "major_mm": 34, "engaged_mm": 30, "stations": ";".join(stations), "lead_days": 20, "batch_size": 20}
        ],
        "gauges": [{"gauge": "mic", "kind": kind, "unit": unit, "resolution": "0.0001" if inch else "0.001"}],
        "undersizes_offered": [
            {"pattern": "P", "undersize_um": um, "from_on": "2020-01-01"} for um in (0, 25, 50)
        ],
        "costs": [
            {"pattern": "P", "item": item, "amount": amount, "currency": "EUR", "from_on": "2020-01-01"}
            for item, amount in {"failure": 400, "return": 40, "filing_minute": 1, "size_kept": 30, "hub_made": 30,
                                 "hub_held": 3, "batch_setup": 50, "lost_sale": 100, "special": 90,
                                 "workshop_fit": 60}.items()
        ],
        "batches": [{"batch": "B1", "pattern": "P", "undersize_um": 25, "made_on": "2024-01-01", "quantity": 40}],
    }  # fmt: skip
    for name in ("shafts", "inspections", "readings", "hubs", "dispatches", "fittings", "follow_ups", "orders"):
        tables[name] = []
    for at in range(number):
        shaft = names(at)
        sent, method = _day(begin, 11 * at), ("as-supplied", "owner-fitted")[at % 2]
        tables["shafts"].append(
            {"shaft": shaft, "pattern": "P", "duty": "daily", "region": ("carr", "fen")[at % 3 > 0]}
        )
        for look in range(1 + (again and at % 2)):
            name = f"I{at}-{look}"
            tables["inspections"].append(
                {"inspection": name, "shaft": shaft, "measured_on": _day(sent, -9 + look), "gauge": "mic",
                 "measured_by": f"m{(at + look) % 5}", "measured_at": ("home", "workshop")[look], "unit": unit,
                 "spline_1_marked": "yes", "hours": 1000 + 90 * at}
            )  # fmt: skip
            for spline in range(1, splines + 1):
                for place, station in enumerate(stations):
                    off = scatter_um * ((3 * spline + 2 * place + 5 * at + look) % 5 - 2)
                    um = 1000 * new_mm - worn_um(at) + off
                    tables["readings"].append(
                        {"inspection": name, "spline": spline, "station": station,
                         "width": f"{um / step:.{decimals}f}"}
                    )  # fmt: skip
        tables["hubs"].append({"hub": f"H-{shaft}", "pattern": "P", "undersize_um": 25, "batch": "B1"})
        tables["orders"].append(
            {"order": f"O{at}", "ordered_on": _day(sent, -3), "pattern": "P", "shaft": shaft, "outcome": "sent"}
        )
        tables["dispatches"].append(
            {"hub": f"H-{shaft}", "sent_on": sent, "shaft": shaft, "order": f"O{at}", "sent_as": method}
        )
        tables["fittings"].append(
            {"fitting": f"F{at}", "shaft": shaft, "hub": f"H-{shaft}", "fitted_on": _day(sent, 12), "method": method,
             "inspections": f"I{at}-0"}
        )  # fmt: skip
        loose = bool(fail_every) and at % fail_every == 0
        seen = {"fitting": f"F{at}", "seen_on": _day(sent, 190), "state": "loose" if loose else "tight"}
        tables["follow_ups"].append(
            seen | {"prompted": "unasked" if loose else "asked", "cause": "flanks" if loose else ""}
        )
    return tables


def _only(*kept: str, **told: Any) -> Tables:
    return {name: rows for name, rows in fleet(**told).items() if name in kept}


def _changed(tables: Tables, **columns: dict[str, Any]) -> Tables:
    """Write other values into whole columns of some tables."""
    return {name: [row | columns.get(name, {}) for row in rows] for name, rows in tables.items()}


def _with(tables: Tables, **more: list[dict[str, Any]]) -> Tables:
    return tables | {name: [*tables.get(name, []), *rows] for name, rows in more.items()}


def _undated() -> Tables:
    tables = _changed(fleet(), fittings={"fitted_on": ""})
    return {name: rows for name, rows in tables.items() if name != "dispatches"}


def _scrapped() -> Tables:
    tables = fleet()
    events = [{"shaft": row["shaft"], "happened_on": "2026-05-01", "what": "scrapped"} for row in tables["shafts"]]
    return _with(tables, shaft_events=events)


def _withdrawn() -> Tables:
    return _changed(fleet(), batches={"withdrawn_on": "2026-06-01", "withdrawn_because": "soft"})


def _two_patterns() -> Tables:
    tables = fleet()
    return _with(tables, patterns=[tables["patterns"][0] | {"pattern": "Q"}])


def _same_day_failures() -> Tables:
    tables = fleet()
    fitted = {row["fitting"]: row["fitted_on"] for row in tables["fittings"]}
    rows = [
        row | ({"seen_on": fitted[row["fitting"]]} if row["state"] == "loose" else {}) for row in tables["follow_ups"]
    ]
    return tables | {"follow_ups": rows}


def _one_shaft_many_hubs(hubs: int) -> Tables:
    tables = fleet(1)
    more: Tables = {"hubs": [], "dispatches": [], "fittings": [], "follow_ups": []}
    for at in range(hubs):
        day = _day("2024-03-01", at // 2)
        more["hubs"].append({"hub": f"G{at}", "pattern": "P", "undersize_um": 25 * (at % 3)})
        more["dispatches"].append({"hub": f"G{at}", "sent_on": day, "shaft": "S00"})
        more["fittings"].append(
            {"fitting": f"E{at}", "shaft": "S00", "hub": f"G{at}", "fitted_on": day, "method": "owner-fitted"}
        )
        more["follow_ups"].append({"fitting": f"E{at}", "seen_on": day, "state": "removed"})
    return _with(tables, **more)


def _contradictory() -> Tables:
    tables = fleet()
    return _with(
        tables,
        follow_ups=[{"fitting": row["fitting"], "seen_on": "2025-12-01", "state": "broken"} for row in
                    tables["fittings"][::2]]
        + [{"fitting": row["fitting"], "seen_on": "2026-02-01", "state": "tight"} for row in tables["fittings"][::2]],
        returns=[{"hub": row["hub"], "returned_on": "2023-01-01", "reason": "other"} for row in tables["hubs"][::3]],
    )  # fmt: skip


def _first_sheet() -> Tables:
    """Keep what stands on the first owner's sheet, one reading of it."""
    tables = _only("patterns", "gauges", "shafts", "inspections", "readings", number=1, again=False)
    return tables | {"readings": tables["readings"][:1]}


_LONG = "x" * 180

ODD_STORES: Final[dict[str, Callable[[], Tables]]] = {
    "plain": fleet,
    "empty": dict,
    "patterns only": lambda: _only("patterns"),
    "costs only": lambda: _only("patterns", "costs"),
    "orders only": lambda: _only("patterns", "shafts", "orders"),
    "returns only": lambda: _with(
        _only("patterns", "hubs", "batches"),
        returns=[
            {"hub": f"H-S{at:02d}", "returned_on": _day("2025-02-01", 9 * at), "reason": "other"} for at in range(9)
        ],
    ),
    "one reading": _first_sheet,
    "one shaft": lambda: fleet(1),
    "two shafts": lambda: fleet(2),
    "one hub": lambda: fleet(1, again=False, fail_every=0),
    "all readings equal": lambda: fleet(scatter_um=0.0, worn_um=lambda _: 20.0),
    "no scatter": lambda: fleet(scatter_um=0.0),
    "all failures": lambda: fleet(fail_every=1),
    "no failures": lambda: fleet(fail_every=0),
    "one failure": lambda: fleet(fail_every=99),
    "failures on the day of fitting": _same_day_failures,
    "all as supplied": lambda: _changed(
        fleet(), fittings={"method": "as-supplied"}, dispatches={"sent_as": "as-supplied"}
    ),
    "only inches": lambda: fleet(inch=True),
    "only calipers": lambda: fleet(kind="caliper"),
    "one station": lambda: fleet(stations=("middle",)),
    "three splines": lambda: fleet(splines=3),
    "forty splines": lambda: fleet(12, splines=40, new_mm=1.2),
    "one measurer": lambda: _changed(fleet(), inspections={"measured_by": "m", "measured_at": "home"}),
    "two patterns, one empty": _two_patterns,
    "worn to nothing": lambda: fleet(worn_um=lambda at: 250.0 + 10.0 * at),
    "wider than new": lambda: fleet(worn_um=lambda at: -40.0 - 2.0 * at),
    "contradictory": _contradictory,
    "names of other alphabets": lambda: fleet(names="Вал-{}-å東".format),
    "very long names": lambda: fleet(names=f"{_LONG}{{}}".format),
    "names with signs": lambda: fleet(names="a \"b\" 'c'; <i>{}</i> & {{x}} %s \\n".format),
    "names like nothing": lambda: fleet(10, names=lambda at: ODD_NAMES[at]),
    "names of numbers": lambda: fleet(names=lambda at: str(10_000_000_000 + at)),
    "long past": lambda: fleet(begin="1955-02-01"),
    "to come": lambda: fleet(begin="2026-06-20"),
    "undated": _undated,
    "hours out of range": lambda: _changed(fleet(), inspections={"hours": "89658406131"}),
    "huge hours": lambda: _changed(fleet(), inspections={"hours": "499999"}),
    "all scrapped": _scrapped,
    "a batch withdrawn": _withdrawn,
    "every row twice": lambda: {name: [*rows, *rows] for name, rows in fleet().items()},
    "many hubs on one shaft": lambda: _one_shaft_many_hubs(1000),
    "huge prices": lambda: _changed(fleet(), costs={"amount": 98765432.1}),
    "prices of nothing": lambda: _changed(fleet(), costs={"amount": 0}),
}
"""By what is odd about each."""

QUICK: Final = ("empty", "one reading")
"""Those that are walked in every run of the tests."""


def make_odd_store(path: Path, name: str) -> Path:
    """Make a store with whatever of its rows the intake takes."""
    create_store(path)
    frames = {table: pd.DataFrame(rows).astype(str) for table, rows in ODD_STORES[name]().items() if rows}
    if frames:
        with open_store(path, write=True) as store:
            add_frames(store, frames, added_on=AS_OF)
    return path
