"""How soon a question is answered: first, in another form, and again; beside another checkout, in the same run.

``python -m tests.benchmarks.at_once [OLD]`` prints the table of `at_once.md`: seconds by the clock, and of work by all
processes together, which a busy machine changes less. OLD is the folder of a checkout to be asked the same, in turn.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

from wearstats.store.cache.entries import clear_cache
from wearstats.studies.demo import demo_as_of, make_demo_store

HERE = Path(__file__).resolve().parents[2]
QUESTIONS: Mapping[str, Sequence[str]] = {
    "wear": ("wear",),
    "gauging": ("gauging",),
    "shaft": ("shaft", "S0001"),
    "loosening": ("loosening",),
    "methods": ("methods",),
    "stock": ("stock",),
    "review": ("review",),
    "calls": ("calls",),
    "all shafts": ("shaft", "--all"),
}


def ask(checkout: Path, store: Path, *asked: str) -> tuple[float, float]:
    """Ask a checkout; give seconds by the clock, and of work."""
    began = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-m", "wearstats", "--store", store, "--as-of", demo_as_of().isoformat(), *asked],
        env=os.environ | {"PYTHONPATH": str(checkout)},
        cwd=store.parent,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise AssertionError(f"{' '.join(asked)} ended with {child.returncode}")
    return time.perf_counter() - began, used.ru_utime + used.ru_stime


def forget(store: Path) -> None:
    """Let all go that any checkout keeps beside the store."""
    clear_cache(store)
    store.with_name(f"{store.name}.kept.json").unlink(missing_ok=True)


def main() -> None:
    """Print the table."""
    old = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else None
    heads = [*(["before"] if old else []), "first", "as JSON then", "after calls", "again"]
    print(f"| question | {' | '.join(heads)} |\n|---|{'---|' * len(heads)}")
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "demo.duckdb"
        make_demo_store(store)
        for name, asked in QUESTIONS.items():
            told = []
            if old is not None:
                forget(store)
                told.append(ask(old, store, *asked))
            forget(store)
            told.append(ask(HERE, store, *asked))
            told.append(ask(HERE, store, *asked, "--json"))
            forget(store)
            ask(HERE, store, "calls", "--full" if name == "calls" else "--json")
            told.append(ask(HERE, store, *asked))
            told.append(ask(HERE, store, *asked))
            print(f"| {name} | {' | '.join(f'{clock:.1f} ({work:.1f})' for clock, work in told)} |", flush=True)
        told = []
        for checkout in (*([old] if old else []), HERE):
            out = Path(folder) / "page"
            told.append(ask(checkout, store, "demo", "--out", str(out)))
            shutil.rmtree(out)
        print(f"| demo, end to end | {' | '.join(f'{clock:.1f} ({work:.1f})' for clock, work in told)} |")


if __name__ == "__main__":
    main()
