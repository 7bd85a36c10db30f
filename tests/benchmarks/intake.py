"""Time the adding of 3 million readings against the database's own bare load of the same file, in the same run.

Run with ``python -m tests.benchmarks.intake``, or with a number of readings behind it; prints the times and their
ratio, which is to stay within 4 (of 30 million: within 5, and under 120 s on two idle cores). Both write to a store on
disk and end with everything written down.
"""

from __future__ import annotations

import datetime
import statistics
import sys
import tempfile
import time
from pathlib import Path

import duckdb

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

READINGS, SPLINES, STATIONS = 3_000_000, 8, 3
MANY = 10_000_000
"""Of so many readings one run has to do."""
ADDED_ON = datetime.date(2026, 1, 1)
PATTERN = (
    "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm,stations\n"
    "D8,8,6.000,6.010,32,36,28,shoulder;middle;nut-end\n"
)
GAUGES = "gauge,kind,unit,resolution\nG1,micrometer-flat,mm,0.001\n"


def invent(folder: Path, inspections: int) -> list[Path]:
    """Write files of an invented fleet; give those that come before the readings."""
    (folder / "patterns.csv").write_text(PATTERN, encoding="utf-8")
    (folder / "gauges.csv").write_text(GAUGES, encoding="utf-8")
    numbers = f"range(1, {inspections + 1}) as numbers(i)"
    made = {
        "shafts": f"select distinct format('S-{{:06d}}', i // 2) as shaft, 'D8' as pattern from {numbers} order by 1",
        "inspections": (
            "select format('I-{:06d}', i) as inspection, format('S-{:06d}', i // 2) as shaft, "
            "date '2023-01-01' + (i % 1000)::integer as measured_on, 'owner-' || i % 5000 as measured_by, "
            f"'home' as measured_at, 'G1' as gauge, 'mm' as unit from {numbers} order by i"
        ),
        "readings": (
            "select format('I-{:06d}', i) as inspection, spline, ['shoulder', 'middle', 'nut-end'][place] as station, "
            "1 as trial, format('{:.3f}', 6 - hash(i * 24 + spline * 3 + place) % 80 / 1000.0) as width "
            f"from {numbers}, range(1, {SPLINES + 1}) as splines(spline), range(1, 4) as places(place) "
            "order by i, spline, place"
        ),
    }
    with duckdb.connect() as connection:
        for name, query in made.items():
            connection.execute(f"copy ({query}) to '{folder / name}.csv' (header)")
    return [folder / f"{name}.csv" for name in ("patterns", "gauges", "shafts", "inspections")]


def bare_s(folder: Path) -> float:
    """Load the readings as the database does by itself."""
    with duckdb.connect(str(folder / "bare.duckdb")) as connection:
        began = time.perf_counter()
        connection.execute(f"create or replace table readings as select * from read_csv('{folder / 'readings.csv'}')")
        connection.execute("checkpoint")
        return time.perf_counter() - began


def ours_s(folder: Path, before: list[Path], readings: int) -> float:
    """Add the readings to a new store that knows their inspections."""
    path = folder / "store.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        add_files(store, before, added_on=ADDED_ON)
        began = time.perf_counter()
        report = add_files(store, [folder / "readings.csv"], added_on=ADDED_ON)
        taken_s = time.perf_counter() - began
    path.unlink()
    if report.files[0].accepted != readings:
        raise AssertionError(f"not all readings were accepted: {report.to_dict()}")
    return taken_s


def main() -> None:
    """Print the comparison."""
    inspections = (int(sys.argv[1]) if len(sys.argv) > 1 else READINGS) // (SPLINES * STATIONS)
    readings = inspections * SPLINES * STATIONS
    repeats, aim = (1, 5.0) if readings >= MANY else (3, 4.0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        before = invent(folder, inspections)
        bare_s(folder)
        # in turns, so that both meet the same other work on the machine
        times = [(bare_s(folder), ours_s(folder, before, readings)) for _ in range(repeats)]
    bare, ours = (statistics.median(column) for column in zip(*times, strict=True))
    print(f"{readings} readings, {repeats} runs each: " + ", ".join(f"{b:.2f} and {o:.2f} s" for b, o in times))
    print(f"bare load   {bare:6.2f} s")
    print(f"add_files   {ours:6.2f} s")
    print(f"ratio       {ours / bare:6.2f} (to stay within {aim:g})")


if __name__ == "__main__":
    main()
