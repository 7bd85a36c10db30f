"""A small shop's store, filled through the intake from files as a newcomer would write them."""

from __future__ import annotations

import datetime
from pathlib import Path

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

AS_OF = datetime.date(2026, 2, 1)
_FILES = {
    "patterns": (
        "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm,grid_um\nP10,10,4.41,4.43,26,31.75,30,25\n"
    ),
    "gauges": (
        "gauge,kind,unit,resolution\n"
        "mic,micrometer-flat,mm,0.001\nshop,micrometer-blade,mm,0.001\ncal,caliper,mm,0.01\n"
    ),
    "undersizes_offered": "pattern,undersize_um,from_on\n"
    + "".join(f"P10,{um},2020-01-01\n" for um in (0, 25, 50, 75)),
}


def make_shop(path: Path, shafts: dict[str, list[list[float]]], *, gauge: str = "mic", folder: Path) -> Path:
    """Make a store with shafts of ten splines, each read once at home at the three stations given, in mm."""
    place = {"mic": "home", "cal": "home", "shop": "workshop"}[gauge]
    files = dict(_FILES)
    files["shafts"] = "shaft,pattern\n" + "".join(f"{name},P10\n" for name in shafts)
    files["inspections"] = "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n" + "".join(
        f"I-{name},{name},2026-01-02,owner-{name},{place},{gauge},mm\n" for name in shafts
    )
    files["readings"] = "inspection,spline,shoulder,middle,nut-end\n" + "".join(
        f"I-{name},{spline},{','.join(f'{width:.3f}' for width in row)}\n"
        for name, rows in shafts.items()
        for spline, row in enumerate(rows, start=1)
    )
    paths = []
    for name, text in files.items():
        file = folder / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        paths.append(file)
    create_store(path)
    with open_store(path, write=True) as store:
        report = add_files(store, paths, added_on=datetime.date(2026, 1, 3))
        assert report.kept_out == 0
    return path


def splines(*stations: float, scatter: float = 0.002) -> list[list[float]]:
    """Ten splines of about the same widths at the stations, in mm."""
    return [
        [width + scatter * ((3 * spline + 2 * j) % 5 - 2) for j, width in enumerate(stations)] for spline in range(10)
    ]
