"""Make faults by machine and see which of them the tests do not see.

    python -m tests.faults touch [--tests …]      which functions each test runs: once, and for tests written since
    python -m tests.faults try [--of 300] [--rooms gaps,stock] [--minutes 60] [--seconds 120] [--again]
    python -m tests.faults table                  the table of faults.md from tries.tsv and equivalent.tsv

Each fault is put into a copy of the project and tried with the tests that run the function it is in, wherever they
stand, until one fails: those of its room first, the short ones before the long, as many as fit into `--seconds`. What
became of it is a line of tries.tsv, so that a run that was stopped is gone on with. `--again` tries once more what
survived, for tests written since. What survives is judged by hand: equivalent.tsv has those that change no answer
that anybody sees, and why.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import time
from functools import partial
from pathlib import Path

from tests.faults.make_faults import Fault, faults_of
from tests.faults.record import HEADING, HERE, Record, equivalent, table
from tests.faults.touching import Touching
from tests.faults.trying import SURVIVED, UNTOUCHED, Copy, Touched

ROOT = Path(__file__).parents[2]
TESTS = "tests/analysis,tests/domain,tests/studies,tests/report,tests/test_one_fact.py,tests/test_one_advice.py"


def rooms() -> dict[str, list[Fault]]:
    """Give all faults, by room: a folder of the analysis, or the domain."""
    found: dict[str, list[Fault]] = {}
    for floor in ("analysis", "domain"):
        for file in sorted((ROOT / "wearstats" / floor).rglob("*.py")):
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


def touch(asked: argparse.Namespace) -> None:
    """Write down what each test runs; tests asked for before stay known."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(ROOT, Path(folder) / "copy")
        for tests in asked.tests.split(","):
            asked.touched.mkdir(exist_ok=True)
            out = (asked.touched / f"{tests.replace('/', '.')}.json").absolute()
            made = copy.run([tests], plugins=partial(_following, copy.folder, out), seconds=3600, keep_compiled=True)
            print(f"{tests}: pytest ended with {made}", flush=True)


def _following(root: Path, out: Path) -> list[object]:
    return [Touching(root, out)]


def attempt(asked: argparse.Namespace) -> None:
    """Try faults until the time is over."""
    found = rooms()
    if asked.rooms:
        found = {room: found[room] for room in asked.rooms.split(",")}
    record = Record(HERE / "tries.tsv")
    drawn = sampled(found, asked.of, seed=asked.seed)
    tried = {None: True, SURVIVED: asked.again, UNTOUCHED: asked.again}
    judged = equivalent()
    left = [each for each in drawn if tried.get(record.result(each[1])) and each[1].key not in judged]
    until = time.monotonic() + 60 * asked.minutes
    touched = Touched(ROOT, *sorted(asked.touched.glob("*.json")))
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(ROOT, Path(folder) / "copy")
        # all is compiled once
        copy.run(["--collect-only", *touched.files()], plugins=list, seconds=600, keep_compiled=True)
        for number, (room, fault) in enumerate(left, start=1):
            if time.monotonic() > until:
                break
            began = time.monotonic()
            tests = touched.tests_of(fault, room, seconds=asked.seconds / 2)
            result, by = copy.try_out(fault, tests, seconds=asked.seconds)
            record.keep(room, fault, result, by)
            spent = time.monotonic() - began
            told = f"{fault.path}:{fault.line} {fault.old} -> {fault.new} {by}"
            print(f"{number}/{len(left)} {result:9} {spent:4.0f} s {told}", flush=True)
        # a test that fails without a fault sees nothing
        blamed = sorted({by for by in record.blamed() if "::" in by})
        if asked.check and blamed:
            ended = copy.run(blamed, plugins=list, seconds=3600)
            print(f"the {len(blamed)} tests that saw faults, without any: pytest ended with {ended}")


def main() -> None:
    """Read what is asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__.splitlines()[0])
    parser.add_argument("do", choices=("touch", "try", "table"))
    parser.add_argument("--tests", default=TESTS)
    parser.add_argument("--rooms", default="")
    parser.add_argument("--of", type=int, default=300)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seconds", type=float, default=40.0, help="of the processor, for a fault")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--touched", type=Path, default=ROOT / ".touched_cache")
    asked = parser.parse_args()
    if asked.do == "touch":
        touch(asked)
    elif asked.do == "try":
        attempt(asked)
    else:
        told = (HERE / "faults.md").read_text(encoding="utf-8").partition(HEADING)[0]
        (HERE / "faults.md").write_text(f"{told}{HEADING}\n\n{table(rooms())}", encoding="utf-8")


if __name__ == "__main__":
    main()
