"""Two checkouts asked the demo's questions with many seeds: whether what is drawn has the same distribution.

    python -m tests.golden.seeds OLD NEW [--seeds 40]

For a change of the draws themselves, after which no single number can be the same. Of every number that hangs on the
seed the two means are compared (a difference over three of its standard errors is counted; by chance it is one in 370),
of every interval the mean widths, and of every word how often it comes. The odd difference in a long list is chance:
what counts is whether there are more than chance makes, and whether they have something in common.
"""

from __future__ import annotations

import argparse
import json
import math
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final

import numpy as np

from tests.golden.running import checked_checkout, make_store, read_answers, run_driver
from tests.golden.stores import ADDED_ON, STORES, GoldenStore

_QUESTIONS: Final = (
    *(("wear",), ("gauging",), ("loosening",), ("methods",), ("stock",), ("review",), ("calls",), ("contact",)),
    ("shaft", "S0001", "S0100", "S0200", "S0300", "S0400"),
)
_FAR: Final = 3.0
_SAME: Final = 1e-9
_FEWEST: Final = 20
"""Seeds with a number below which it is not compared."""

Values = dict[str, list[Any]]


def leaves(document: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Give every number, word and blank of a document with its place."""
    if isinstance(document, dict):
        for key, value in document.items():
            yield from leaves(value, f"{place}.{key}")
    elif isinstance(document, list):
        for index, value in enumerate(document):
            yield from leaves(value, f"{place}[{index}]")
    else:
        yield place, document


def ask(checkout: Path, store: GoldenStore, path: Path, folder: Path, seeds: int) -> dict[str, Values]:
    """Ask every question with every seed; by question and place what was answered, a value a seed."""
    folder.mkdir()
    (folder / store.file).write_bytes(path.read_bytes())
    asked = [
        {
            "name": f"{question[0]}/{seed}",
            "args": ["--store", store.file, "--as-of", ADDED_ON, "--seed", str(seed), "--json", *question],
            "out": None,
        }
        for question in _QUESTIONS
        for seed in range(1, seeds + 1)
    ]
    run_driver(checkout, folder, asked, folder / "answers.json.gz", store.environment)
    found: dict[str, Values] = defaultdict(lambda: defaultdict(list))
    for name, answer in read_answers(folder / "answers.json.gz").items():
        for place, value in leaves(json.loads(answer["stdout"] or "null")):
            found[name.partition("/")[0]][place].append(value)
    return found


def compare(question: str, old: Values, new: Values) -> list[str]:
    """Say of one question how the seeds' answers differ; the first line sums up."""
    far, far_lines, seeded, words = 0, [], 0, 0
    for place in sorted(set(old) | set(new)):
        one, other = (numbers(values.get(place, [])) for values in (old, new))
        if min(one.size, other.size) < _FEWEST:
            words += Counter(map(str, old.get(place, []))) != Counter(map(str, new.get(place, [])))
            continue
        spread = math.sqrt(one.var(ddof=1) / one.size + other.var(ddof=1) / other.size)
        apart = other.mean() - one.mean()
        seeded += spread > _SAME * abs(one.mean())
        if spread > _SAME * abs(one.mean()):
            score = apart / spread
        else:
            # what does not hang on the seed must be the same
            score = 0.0 if abs(apart) <= _SAME * max(abs(one.mean()), 1.0) else math.inf
        if abs(score) > _FAR:
            far += 1
            far_lines.append(
                f"    {question}{place}: mean {one.mean():.6g} -> {other.mean():.6g} ({score:+.1f} errors)"
            )
    ratios = np.array(list(_width_ratios(old, new)) or [1.0])
    low, middle, high = np.quantile(ratios, [0.05, 0.5, 0.95])
    return [
        f"{question}: {seeded} numbers hang on the seed, {far} means over {_FAR:g} errors apart; {ratios.size} "
        f"intervals, width new over old {middle:.3f} (nine in ten {low:.3f} to {high:.3f}); {words} words "
        "not equally often",
        *far_lines[:10],
    ]


def numbers(values: list[Any]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Keep the numbers."""
    return np.array([v for v in values if isinstance(v, int | float) and not isinstance(v, bool)], dtype=float)


def _width_ratios(old: Values, new: Values) -> Iterator[float]:
    """Mean width of every interval that hangs on the seed, new over old."""
    for place in old:
        stem, _, end = place.rpartition(".")
        if end != "high" or place not in new:
            continue
        widths = [
            numbers(values[place])[:n] - numbers(values[f"{stem}.low"])[:n]
            for values in (old, new)
            if (n := min(numbers(values[place]).size, numbers(values[f"{stem}.low"]).size)) >= _FEWEST
        ]
        if len(widths) == 2 and widths[0].std() > 0 and widths[0].mean() > 1e-9:
            yield float(widths[1].mean() / widths[0].mean())


def main() -> None:
    """Compare and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden.seeds")
    parser.add_argument("old", type=Path)
    parser.add_argument("new", type=Path)
    parser.add_argument("--seeds", type=int, default=40)
    given = parser.parse_args()
    store = next(each for each in STORES if each.name == "demo")
    checkouts = [checked_checkout(path) for path in (given.old, given.new)]
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2) as pool:
        path = Path(name) / store.file
        make_store(checkouts[0], store, store.tables(checkouts[0]), path)
        asked = [
            pool.submit(ask, checkout, store, path, Path(name) / side, given.seeds)
            for checkout, side in zip(checkouts, ("old", "new"), strict=True)
        ]
        old, new = (each.result() for each in asked)
    for question in old:
        print("\n".join(compare(question, old[question], new[question])))


if __name__ == "__main__":
    main()
