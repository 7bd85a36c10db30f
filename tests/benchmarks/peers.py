"""Answers, time and memory beside general libraries: the same models on the same data, in the same run.

Run with ``python -m tests.benchmarks.peers``, with the extra ``peers`` installed, or with names of questions behind it;
prints the table that is kept in ``peers.md``. Everything runs on one core. Times are taken in turns, so that all meet
the same other work on the machine; a ratio is that of one round, and the table has its median and range. Memory is
what a fresh process, which has answered the smallest size before, needs at its peak on top of data and libraries.
"""

from __future__ import annotations

import ctypes
import gc
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

from tests.benchmarks.peer_questions import OURS, QUESTIONS, Question
from wearstats.domain.arrays import FloatArray

REPEATS = 5
_STATUS = Path("/proc/self/status")


def agreement(question: Question, size: int, ours: FloatArray, theirs: FloatArray) -> str:
    """Tell how far the answers are apart: the largest difference, or how much the others' are above ours."""
    allowed = question.absolute(size) + question.relative * np.abs(ours)
    apart = np.abs(theirs - ours)
    if np.all(apart <= allowed):
        bound = f"{question.relative:.0e} of it" if question.relative else f"{question.absolute(size):.2g}"
        worst = float(np.max(apart / np.abs(ours))) if question.relative else float(apart.max())
        return f"equal: {worst:.1e}, allowed {bound}"
    least, most = (f"{x:+.1%}".replace("-0.0%", "0.0%") for x in (np.min(theirs / ours - 1), np.max(theirs / ours - 1)))
    return f"not equal: from {least} to {most}"


def rounds_s(question: Question, size: int) -> tuple[dict[str, FloatArray], dict[str, list[float]]]:
    """Answer once, then in turns; give answers and seconds by who gave them."""
    ways = question.make(size)
    answers = {who: way() for who, way in ways.items()}
    taken: dict[str, list[float]] = {who: [] for who in ways}
    for _ in range(REPEATS):
        for who, way in ways.items():
            began = time.perf_counter()
            way()
            taken[who].append(time.perf_counter() - began)
    return answers, taken


def memory_mb(name: str, size: int, who: str) -> float:
    """Ask a fresh process for the memory it needs."""
    command = [sys.executable, "-m", "tests.benchmarks.peers", "--memory", name, str(size), who]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def _own_memory_mb(question: Question, size: int, who: str) -> float:
    """Answer and give the peak on top of what was there before (Linux)."""
    question.make(question.sizes[0])[who]()
    way = question.make(size)[who]
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)  # else what the smallest size left lying about would be used again unseen
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the peak begins anew
    before = _status_mb("VmRSS")
    way()
    return _status_mb("VmHWM") - before


def _status_mb(field: str) -> float:
    for line in _STATUS.read_text(encoding="ascii").splitlines():
        if line.startswith(f"{field}:"):
            return float(line.split()[1]) / 1000
    raise AssertionError(f"{_STATUS}: no {field}")


def rows(name: str, size: int) -> Iterator[str]:
    """Give the table's rows for one size."""
    question = QUESTIONS[name]
    answers, taken = rounds_s(question, size)
    for who, seconds in taken.items():
        against = [theirs / ours for theirs, ours in zip(seconds, taken[OURS], strict=True)]
        told = (statistics.median(against), min(against), max(against))
        middle, least, most = (f"{x:.0f}" if x >= 10 else f"{x:.2f}" for x in told)
        ratio = f"{middle} ({least} to {most})"
        agreed = agreement(question, size, answers[OURS], answers[who])
        ms = 1000 * statistics.median(seconds)
        mine = who == OURS
        yield (
            f"| {question.title} | {size} {question.unit} | {who} | {ms:.1f} | {'1' if mine else ratio} | "
            f"{memory_mb(name, size, who):.1f} | {'' if mine else agreed} |"
        )


def main() -> None:
    """Print the table, or one number of it."""
    warnings.simplefilter("ignore")
    with threadpool_limits(limits=1):
        if sys.argv[1:2] == ["--memory"]:
            name, number, who = sys.argv[2:]
            print(_own_memory_mb(QUESTIONS[name], int(number), who))
            return
        print("| question | size | answered by | ms | times ours | MB | answers |")
        print("|---|---:|---|---:|---:|---:|---|")
        for name in sys.argv[1:] or QUESTIONS:
            for size in QUESTIONS[name].sizes:
                for row in rows(name, size):
                    print(row, flush=True)


if __name__ == "__main__":
    main()
