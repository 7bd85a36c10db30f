"""A store of shafts that were looked at again after running, filled through the intake as a shop writes them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

AS_OF = datetime.date(2026, 2, 1)
NEW_MM = 6.0


@dataclass(frozen=True)
class Look:
    """One inspection by the workshop, and what the hub did that ran after it.

    ``then``: ``tight`` (taken off tight), ``loose`` (found loose), ``silent`` (no word), or empty (no hub followed).
    ``event``: what was done to the shaft before this look.
    """

    on: str
    hours: float | None
    wear_um: float
    then: str = ""
    event: str = ""
    heard_h: float | None = None


def day_after(day: str, days: int) -> str:
    return (datetime.date.fromisoformat(day) + datetime.timedelta(days=days)).isoformat()


def make_running_shop(
    path: Path,
    shafts: dict[str, list[Look]],
    *,
    folder: Path,
    duty: str = "daily",
    sizes: tuple[int, ...] = (0, 25, 50, 75),
) -> Path:
    """Make a store; hubs go on five days after a look and come off, or are asked after, three days before the next."""
    rng = np.random.default_rng(5)
    rows: dict[str, list[str]] = {
        "patterns": [
            "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm", f"P,8,{NEW_MM},6.01,32,36,28"
        ],
        "gauges": ["gauge,kind,unit,resolution", "shop,micrometer-blade,mm,0.001"],
        "undersizes_offered": ["pattern,undersize_um,from_on", *(f"P,{um},2020-01-01" for um in sizes)],
        "shafts": ["shaft,pattern,duty", *(f"{name},P,{duty}" for name in shafts)],
        "inspections": ["inspection,shaft,measured_on,measured_by,measured_at,gauge,unit,hours,spline_1_marked"],
        "readings": ["inspection,spline,shoulder,middle,nut-end"],
        "hubs": ["hub,pattern,undersize_um"],
        "fittings": ["fitting,shaft,hub,fitted_on,method"],
        "follow_ups": ["fitting,seen_on,state,prompted,cause,hours"],
        "shaft_events": ["shaft,happened_on,what"],
    }  # fmt: skip
    for name, looks in shafts.items():
        uneven = rng.normal(0, 2, (8, 3))
        for number, look in enumerate(looks):
            key = f"{name}-{number}"
            hours = "" if look.hours is None else f"{look.hours:g}"
            rows["inspections"].append(f"I-{key},{name},{look.on},hand-{number % 2},workshop,shop,mm,{hours},yes")
            width = NEW_MM + (uneven - uneven.mean() - look.wear_um + rng.normal(0, 1, (8, 3))) / 1000
            rows["readings"] += [
                f"I-{key},{spline},{','.join(f'{mm:.3f}' for mm in row)}" for spline, row in enumerate(width, start=1)
            ]
            if look.event:
                rows["shaft_events"].append(f"{name},{day_after(look.on, -1)},{look.event}")
            if not look.then:
                continue
            rows["hubs"].append(f"H-{key},P,25")
            rows["fittings"].append(f"F-{key},{name},H-{key},{day_after(look.on, 5)},workshop-fitted")
            last = number + 1 == len(looks)
            seen = day_after(look.on, 200) if last else day_after(looks[number + 1].on, -3)
            heard = "" if look.heard_h is None else f"{look.heard_h:g}"
            if look.then == "loose":
                rows["follow_ups"].append(f"F-{key},{seen},loose,unasked,flanks,{heard}")
            elif look.then == "tight":
                rows["follow_ups"].append(f"F-{key},{seen},removed,asked,other,{heard}")
    create_store(path)
    paths = []
    for table, lines in rows.items():
        if len(lines) > 1:
            file = folder / f"{table}.csv"
            file.write_text("\n".join(lines) + "\n", encoding="utf-8")
            paths.append(file)
    with open_store(path, write=True) as store:
        report = add_files(store, paths, added_on=datetime.date(2026, 1, 30))
        assert report.kept_out == 0
    return path


def twice_looked_at(shafts: int, *, rate: float = 4.0, loose: float = 12.0, seed: int = 1) -> dict[str, list[Look]]:
    """Shafts of which each second one's hub was found loose, um lost per 1000 h as given."""
    rng = np.random.default_rng(seed)
    made = {}
    for number in range(shafts):
        begin, ran = float(rng.integers(2000, 9000)), float(rng.integers(1500, 6000))
        found_loose = number % 2 == 1
        own = (loose if found_loose else rate) * rng.gamma(25, 1 / 25)
        worn = float(rng.gamma(3, 8))
        made[f"S{number}"] = [
            Look("2023-02-01", begin, worn, then="loose" if found_loose else "tight"),
            Look("2025-03-01", begin + ran, worn + own * ran / 1000),
        ]
    return made
