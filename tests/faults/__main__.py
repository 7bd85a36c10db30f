"""Make faults by machine and see which of them the tests do not see.

Run as python -m tests.faults [--rooms gaps,stock] [--of 300] [--minutes 60] [--seed 1] [--out faults.md].

Each fault is put into a copy of the project, and the tests of its room are run until one fails; a room whose faults
survive that is tried with the tests of the studies that use it, where `--wide` is said. What survives is listed: it is
judged by hand whether it is equivalent, changes no answer, or is seen by nobody.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.faults.make_faults import Fault, faults_of

ROOT = Path(__file__).parents[2]
PACKAGE = Path("wearstats")
SEEN, SURVIVED, STOPPED = "seen", "survived", "stopped"


def rooms() -> dict[str, list[Fault]]:
    """Give all faults, by room: a folder of the analysis, or the domain."""
    found: dict[str, list[Fault]] = {}
    for floor in ("analysis", "domain"):
        for file in sorted((ROOT / PACKAGE / floor).rglob("*.py")):
            path = file.relative_to(ROOT)
            room = path.parts[2] if floor == "analysis" and len(path.parts) > 3 else floor
            found.setdefault(room, []).extend(faults_of(path, root=ROOT))
    return found


def sampled(found: dict[str, list[Fault]], of: int, *, seed: int) -> list[tuple[str, Fault]]:
    """Draw faults, of each room by the square root of how many it has, in an order that a stop leaves fair."""
    draw = random.Random(seed)
    weight = {room: len(faults) ** 0.5 for room, faults in found.items()}
    total = sum(weight.values())
    drawn = [
        (room, fault)
        for room, faults in found.items()
        for fault in draw.sample(faults, min(len(faults), max(1, round(of * weight[room] / total))))
    ]
    draw.shuffle(drawn)
    return drawn


def tests_of(room: str) -> list[str]:
    """Name the tests of a room."""
    if room == "domain":
        return ["tests/domain"]
    if room == "analysis":
        return ["tests/analysis/test_estimate_side.py", "tests/analysis/rates", "tests/analysis/advice"]
    return [f"tests/analysis/{room}"]


def tried(copy: Path, room: str, fault: Fault, *, limit_s: float, wide: bool) -> str:
    """Put a fault in, run the tests, take it out."""
    file = copy / fault.path
    text = file.read_text(encoding="utf-8")
    file.write_text(fault.put_into(text), encoding="utf-8")
    try:
        for tests in [tests_of(room), *([["tests/studies", "tests/test_one_fact.py"]] if wide else [])]:
            ran = subprocess.run(
                [sys.executable, "-m", "pytest", "-n0", "-q", "-x", "-p", "no:cacheprovider", *tests],
                cwd=copy,
                env={**os.environ, "PYTHONPATH": str(copy)},
                capture_output=True,
                timeout=limit_s,
                check=False,
            )
            if ran.returncode != 0:
                return SEEN
    except subprocess.TimeoutExpired:
        return STOPPED
    finally:
        file.write_text(text, encoding="utf-8")
    return SURVIVED


def table(results: list[tuple[str, Fault, str]], *, left: int, seed: int) -> str:
    """Write the table."""
    by_room = Counter((room, result) for room, _, result in results)
    lines = [
        "# Faults made by machine",
        "",
        f"`python -m tests.faults --seed {seed}`: {len(results)} faults tried, {left} more drawn and not reached.",
        "",
        "| room | tried | seen | stopped | survived |",
        "|---|---:|---:|---:|---:|",
    ]
    for room in sorted({room for room, *_ in results}):
        counts = [by_room[room, result] for result in (SEEN, STOPPED, SURVIVED)]
        lines.append(f"| {room} | {sum(counts)} | {' | '.join(map(str, counts))} |")
    counts = [sum(by_room[room, result] for room in {room for room, *_ in results}) for result in
              (SEEN, STOPPED, SURVIVED)]  # fmt: skip
    lines += [f"| all | {sum(counts)} | {' | '.join(map(str, counts))} |", "", "## What survived", ""]
    for room, fault, result in sorted(results, key=lambda each: (each[0], str(each[1].path), each[1].line)):
        if result == SURVIVED:
            code = (ROOT / fault.path).read_text(encoding="utf-8").splitlines()[fault.line - 1].strip()
            lines.append(f"- {room}: `{fault.path}:{fault.line}` `{fault.old}` to `{fault.new}`: `{code}`")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Try faults until the time is over."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__.splitlines()[0])
    parser.add_argument("--rooms", default="")
    parser.add_argument("--of", type=int, default=300)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit-s", type=float, default=180.0)
    parser.add_argument("--wide", action="store_true")
    parser.add_argument("--out", type=Path, default=Path("faults.md"))
    asked = parser.parse_args()
    found = rooms()
    if asked.rooms:
        found = {room: found[room] for room in asked.rooms.split(",")}
    drawn = sampled(found, asked.of, seed=asked.seed)
    until = time.monotonic() + 60 * asked.minutes
    results: list[tuple[str, Fault, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache"))
        for number, (room, fault) in enumerate(drawn, start=1):
            if time.monotonic() > until:
                break
            result = tried(copy, room, fault, limit_s=asked.limit_s, wide=asked.wide)
            results.append((room, fault, result))
            print(f"{number}/{len(drawn)} {result:9} {fault.path}:{fault.line} {fault.old} -> {fault.new}", flush=True)
            asked.out.write_text(table(results, left=len(drawn) - number, seed=asked.seed), encoding="utf-8")


if __name__ == "__main__":
    main()
