"""Ask every question of fleets of up to a million shafts, and see how time and memory grow with them.

Run with ``python -m tests.benchmarks.scale``, or with numbers of shafts behind it; prints the table that is kept in
``scale.md``. Each question is asked by the command itself, in a process of its own, of a store on disk. The aims at a
million shafts, on two cores that do nothing else: 90 s (``review`` and ``report`` 60 s, ``shaft`` 3 s) and 3 GB, and an
exponent of time against shafts of at most 1.1. ``shaft`` is asked twice: the first time after something was added works
out what all shafts say, every later time finds it kept beside the store.
"""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from tests.benchmarks.scale_store import AS_OF, write_store
from wearstats.store.cache.entries import clear_cache

SIZES = (100_000, 300_000, 1_000_000)
COMMANDS = {
    "wear": ("wear",),
    "gauging": ("gauging",),
    "shaft, first": ("shaft", "S0000100"),
    "shaft, next": ("shaft", "S0000101"),
    "loosening": ("loosening",),
    "methods": ("methods",),
    "stock": ("stock",),
    "review": ("review", "--quarter", "2026Q1"),
    "calls": ("calls",),
    "report": ("report", "--out", "{folder}", "--force"),
}
"""What is asked, by the name in the table."""


def ask(store: Path, command: Sequence[str]) -> tuple[float, float, float]:
    """Ask a question; give seconds by the clock, seconds of both cores together, and peak memory in GB."""
    began = time.perf_counter()
    child = subprocess.Popen(
        [
            *(sys.executable, "-m", "wearstats"),
            *(word.replace("{folder}", str(store.parent / "page")) for word in command),
            *("--store", str(store), "--as-of", AS_OF),
        ],
        stdout=subprocess.DEVNULL,
    )
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise AssertionError(f"{' '.join(command)} ended with {child.returncode}")
    return time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1e6


def written(store: Path, shafts: int) -> int:
    """Write a store in a process of its own, for a child's peak memory begins with its parent's; give its readings."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as writer:
        return writer.submit(write_store, store, shafts).result()[1]


def exponent(shafts: list[int], seconds: list[float]) -> float:
    """Slope of the logarithm of time by that of shafts."""
    return float(np.polyfit(np.log(shafts), np.log(seconds), 1)[0])


def main() -> None:
    """Print the table."""
    sizes = [int(word) for word in sys.argv[1:]] or list(SIZES)
    rows: dict[str, list[tuple[int, float, float]]] = {command: [] for command in COMMANDS}
    print("| shafts | readings | command | s by the clock | s of both cores | peak GB |")
    print("|---:|---:|---|---:|---:|---:|")
    with tempfile.TemporaryDirectory() as folder:
        for shafts in sizes:
            store = Path(folder) / "fleet.duckdb"
            readings = written(store, shafts)
            for name, command in COMMANDS.items():
                clock_s, cores_s, peak_gb = ask(store, command)
                rows[name].append((shafts, clock_s, cores_s))
                print(f"| {shafts} | {readings} | {name} | {clock_s:.1f} | {cores_s:.1f} | {peak_gb:.2f} |", flush=True)
            clear_cache(store)
            store.unlink()
    if len(sizes) > 1:
        for name, told in rows.items():
            numbers, clock, cores = (list(column) for column in zip(*told, strict=True))
            print(
                f"\n{name}: time grows as shafts to the power {exponent(numbers, clock):.2f} by the clock, "
                f"{exponent(numbers, cores):.2f} in work"
            )


if __name__ == "__main__":
    main()
