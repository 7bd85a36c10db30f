"""Spoiled files by the thousand: ``python -m tests.robustness.fuzz COUNT`` writes ``tests/robustness/fuzz.md``.

Each case is a valid file spoiled in one way, made from the seed and its number alone, and goes through the whole
intake. The cases run in a child, so that one that kills it is counted, kept and told, and the others go on.
"""

from __future__ import annotations

import datetime
import json
import multiprocessing
import random
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from types import FrameType

from tests.robustness.mutations import MUTATIONS, valid_files
from tests.store.support.small_store import make_store
from wearstats.errors import WearstatsError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files

SEED = 20261125
LONGEST_S = 5
"""Of the processor's time; by the clock `STUCK_S`, since other work may hold the machine."""

STUCK_S = 60
FRESH_EVERY = 3000
"""Cases after which a fresh store is begun, so that the last ones are not slower than the first."""

SHARES = {"csv": 50, "pasted": 40, "xlsx": 4, "parquet": 6}
"""How many of a hundred cases are of each form; workbooks are slow to read."""

ADDED_ON = datetime.date(2026, 6, 10)
HERE = Path(__file__).parent


class TooSlow(BaseException):
    """A case took longer than `LONGEST_S`, or `STUCK_S` by the clock."""


def _too_slow(_number: int, _frame: FrameType | None) -> None:
    raise TooSlow


def case(number: int, files: dict[str, list[tuple[str, bytes]]]) -> tuple[str, str, str, bytes]:
    """Make a case: form, mutation, file name, content."""
    rng = random.Random(SEED * 1_000_003 + number)
    form = rng.choices([*SHARES], [*SHARES.values()])[0]
    name, data = rng.choice(files[form])
    kind = rng.choice([*MUTATIONS[form]])
    return form, kind, name, MUTATIONS[form][kind](data, rng)


def run_case(store: Store, folder: Path, form: str, name: str, content: bytes) -> str:
    """Run one case; gives ``parsed``, ``refused`` or the name of what it ended in."""
    text = content.decode("utf-8", "replace") if form == "pasted" else None
    paths = [] if form == "pasted" else [folder / name]
    for path in paths:
        path.write_bytes(content)
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    signal.setitimer(signal.ITIMER_REAL, STUCK_S)
    try:
        before = store.value("select coalesce(max(intake), 0) from intakes")
        report = add_files(store, paths, text=text, added_on=ADDED_ON, correct=before % 3 == 0)
        for file in report.files:
            assert file.read == file.accepted + file.duplicate + file.conflict + file.rejected
        kept = store.value("select count(*) from rejects where intake > $before::integer", {"before": before})
        assert kept == report.kept_out, (kept, report.kept_out)
    except WearstatsError:
        return "refused"
    except (Exception, TooSlow) as found:  # noqa: BLE001 (whatever it is is told)
        return f"{type(found).__name__}: {str(found)[:200]}"
    finally:
        for timer in (signal.ITIMER_PROF, signal.ITIMER_REAL):
            signal.setitimer(timer, 0)
    return "parsed"


def sound(store: Store) -> None:
    """Check what must hold whatever was added: keys stand once, the sums kept beside the readings are theirs."""
    twice = "select count(*) - count(distinct (inspection, spline, station, trial)) from readings"
    assert store.value(twice) == 0
    assert store.value("select coalesce(sum(n), 0) from inspection_moments") == store.value(
        "select count(*) from readings"
    )
    odd = "select count(*) from intake_files where read <> accepted + duplicate + conflict + rejected"
    assert store.value(odd) == 0
    listed = "select (select sum(conflict + rejected) from intake_files), (select count(*) from rejects)"
    told, held = store.rows(listed)[0]
    assert (told or 0) == held


def run_range(first: int, last: int, said: Path) -> None:
    """Run cases one after another, writing down how each ended."""
    for told in (signal.SIGPROF, signal.SIGALRM):
        signal.signal(told, _too_slow)
    with tempfile.TemporaryDirectory() as held, said.open("a", encoding="utf-8") as out:
        folder = Path(held)
        files = valid_files(folder)
        with open_store(make_store(folder / "kept.duckdb"), write=True) as store:
            for number in range(first, last):
                form, kind, name, content = case(number, files)
                print(json.dumps([number, form, kind]), end=" ", file=out, flush=True)
                begun = time.perf_counter()
                ended = run_case(store, folder, form, name, content)
                print(json.dumps([ended, round(time.perf_counter() - begun, 4)]), file=out, flush=True)
            sound(store)
        with open_store(folder / "kept.duckdb") as store:
            sound(store)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(json.dumps(["peak_mb", peak, first, last]), file=out, flush=True)


def run_all(count: int, said: Path, *, first: int = 0) -> None:
    """Run cases in children; one that dies is written down, and a new child goes on behind it."""
    at = first
    context = multiprocessing.get_context("spawn")
    while at < first + count:
        until = min(at + FRESH_EVERY, first + count)
        child = context.Process(target=run_range, args=(at, until, said))
        child.start()
        child.join()
        if child.exitcode == 0:
            at = until
            continue
        last = said.read_text(encoding="utf-8").rstrip("\n").splitlines()[-1] if said.exists() else ""
        with said.open("a", encoding="utf-8") as out:
            died = json.dumps([f"died, exit code {child.exitcode}", 0.0])
            print(
                died if last.endswith("] ") or (last.endswith("]") and last.count("[") == 1) else "",
                file=out,
                flush=True,
            )
        at = (json.JSONDecoder().raw_decode(last)[0][0] if last.startswith("[") else at) + 1


def table(said: Path) -> str:
    """Write the table of what became of all cases."""
    tried: Counter[tuple[str, str]] = Counter()
    past: Counter[tuple[str, str]] = Counter()
    bad: list[str] = []
    longest, peak = 0.0, 0
    for line in said.read_text(encoding="utf-8").splitlines():
        first, end = json.JSONDecoder().raw_decode(line) if line.strip() else ([], 0)
        if not first:
            continue
        if first[0] == "peak_mb":
            peak = max(peak, first[1])
            continue
        ended, seconds = json.loads(line[end:] or '["died", 0]')
        number, form, kind = first
        tried[form, kind] += 1
        past[form, kind] += ended == "parsed"
        longest = max(longest, seconds)
        if ended not in ("parsed", "refused"):
            bad.append(f"* case {number}, {form}, {kind}: {ended}")
    lines = [
        "# Spoiled files",
        "",
        f"Made by `python -m tests.robustness.fuzz COUNT`, seed {SEED}. A case is a valid file spoiled in one way",
        "and added to a store to its end. *Past the parser* are those that were not refused as a whole; their rows may",
        "still be kept out one by one.",
        "",
        f"{sum(tried.values())} cases, all of them whole intakes; longest {longest:.2f} s; largest process",
        f"{peak} MB; {len(bad)} ended in anything but an answer or an error of ours. After every {FRESH_EVERY} cases",
        "the store was sound: keys once, sums equal to readings, every row of every file accounted for; and it opened.",
        "",
        "| form | spoiled by | cases | past the parser |",
        "|---|---|---:|---:|",
    ]
    for (form, kind), n in sorted(tried.items()):
        lines.append(f"| {form} | {kind.replace('_', ' ')} | {n} | {past[form, kind] / n:.3f} |")
    return "\n".join([*lines, "", *(bad or ["Nothing is left that ends otherwise."]), ""])


if __name__ == "__main__":
    to = Path(sys.argv[2]) if len(sys.argv) > 2 else HERE / "fuzz.md"
    with tempfile.TemporaryDirectory() as temporary:
        run_all(int(sys.argv[1]), Path(temporary) / "said.jsonl")
        to.write_text(table(Path(temporary) / "said.jsonl"), encoding="utf-8")
