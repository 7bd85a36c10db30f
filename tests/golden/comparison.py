"""Two checkouts asked about the same stores, several at a time, and their answers compared."""

from __future__ import annotations

import os
import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from tests.golden.outcome import Outcome
from tests.golden.questions import Asked, questions
from tests.golden.running import ask_store, checked_checkout, kept_folder, make_store, read_answers
from tests.golden.stores import STORES, GoldenStore
from tests.golden.tables import Tables

SIDES = ("old", "new")

_Work = tuple[str, Callable[[], None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What is compared, and where what is made for it lies.

    Parameters
    ----------
    checkouts : dict of str to pathlib.Path
        By side; the old one makes the stores.
    quick : bool
        Whether only some stores are asked, about one day and with one seed.
    jobs : int
        How many drivers run at a time.
    work : pathlib.Path
        A folder that is removed afterwards.
    kept : pathlib.Path or None
        A folder that stays, for the stores and the old side's answers.
    """

    checkouts: dict[str, Path]
    quick: bool
    jobs: int
    work: Path
    kept: Path | None
    tables: dict[str, Tables] = field(default_factory=dict)
    asked: dict[str, list[Asked]] = field(default_factory=dict)

    def stores(self) -> list[GoldenStore]:
        """List the stores that are asked."""
        return [store for store in STORES if store.quick or not self.quick]

    def run(self, outcome: Outcome) -> None:
        """Ask what has not been asked before, and compare."""
        for store in self.stores():
            self.tables[store.name] = store.tables(self.checkouts["old"])
            self.asked[store.name] = questions(store, self.tables[store.name], quick=self.quick)
        self._do(self._making())
        self._do(self._asking())
        for store in self.stores():
            old, new = (read_answers(self._answers(side, store)) for side in SIDES)
            outcome.take(store.name, self.asked[store.name], old, new)

    def _making(self) -> Iterable[_Work]:
        for store in self.stores():
            if not self._store(store).is_file():
                made = partial(make_store, self.checkouts["old"], store, self.tables[store.name], self._store(store))
                yield f"made {store.name}", made

    def _asking(self) -> Iterable[_Work]:
        for store in self.stores():
            for side in SIDES:
                if not (answers := self._answers(side, store)).is_file():
                    asked = partial(
                        ask_store, self.checkouts[side], store, self._store(store), self.asked[store.name], answers,
                        folder=self.work / "asked" / side / store.name,
                    )  # fmt: skip
                    yield f"{side} answered about {store.name}", asked

    def _do(self, work: Iterable[_Work]) -> None:
        """Do pieces of work, so many at a time, in their order; the first that fails ends it."""
        with ThreadPoolExecutor(self.jobs) as pool:
            done = [pool.submit(_timed, *each) for each in work]
            try:
                for each in done:
                    each.result()
            except BaseException:
                pool.shutdown(cancel_futures=True)
                raise

    def _store(self, store: GoldenStore) -> Path:
        return (self.kept or self.work) / "stores" / store.file

    def _answers(self, side: str, store: GoldenStore) -> Path:
        folder = self.kept if side == "old" and self.kept is not None else self.work / side
        whole, quick = (folder / f"{store.name}-{depth}.json.gz" for depth in ("whole", "quick"))
        # what is asked quickly is asked in the whole check too
        return quick if self.quick and not whole.is_file() else whole


def compare(
    old: Path, new: Path, *, quick: bool, jobs: int, keep: Path | None, rtol: float, ignore: list[re.Pattern[str]]
) -> Outcome:
    """Compare the answers of two checkouts.

    Parameters
    ----------
    old, new : pathlib.Path
        Their folders.
    quick : bool
        Whether only some stores are asked, about one day and with one seed.
    jobs : int
        How many drivers run at a time.
    keep : pathlib.Path or None
        Where stores and old answers are kept for the next time.
    rtol : float
        How far numbers may differ, in parts of the larger one.
    ignore : list of re.Pattern
        Differences to leave out.

    Returns
    -------
    Outcome

    Raises
    ------
    GoldenError
        When a folder is no checkout, a store cannot be made, or a driver fails.
    """
    checkouts = {"old": checked_checkout(old), "new": checked_checkout(new)}
    kept = None if keep is None else kept_folder(keep, checkouts["old"])
    if keep is not None and kept is None:
        _note(f"{checkouts['old']}: has changes that are in no commit; its answers are not kept")
    outcome = Outcome(rtol=rtol, ignore=ignore)
    begun, used = time.perf_counter(), _processor_s()
    with tempfile.TemporaryDirectory(prefix="golden-") as name:
        work = Path(name).resolve()
        Comparison(checkouts=checkouts, quick=quick, jobs=jobs, work=work, kept=kept).run(outcome)
    _note(f"{time.perf_counter() - begun:.0f} s altogether, {_processor_s() - used:.0f} s of processor time")
    return outcome


def _timed(what: str, work: Callable[[], None]) -> None:
    begun = time.perf_counter()
    work()
    _note(f"{what}: {time.perf_counter() - begun:.0f} s")


def _processor_s() -> float:
    """Give the processor time so far of the drivers that have ended, and of what they started, in seconds."""
    times = os.times()
    return times.children_user + times.children_system


def _note(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
