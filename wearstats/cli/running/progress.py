"""What is being done, said on stderr to whoever waits longer than a moment, a pipe or not."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from wearstats.cli.running.output import print_note

AFTER_S: Final = 2.0
"""Whoever waits so long is told what for, and then what comes next, but not more often than that."""

_FIRST: Final = "working on it"


class _Told:
    """The stage that is being worked on, and those said already: what comes again is not said again."""

    def __init__(self) -> None:
        self.stage = _FIRST
        self.said: set[str] = set()
        self.over = threading.Event()

    def tell(self, every_s: float) -> None:
        """Say the stage whenever it is a new one, until it is over."""
        while not self.over.wait(every_s):
            if (stage := self.stage) not in self.said:
                self.said.add(stage)
                print_note(f"… {stage}", passing=True)


_told = _Told()


def doing(stage: str) -> None:
    """Take note of what is being worked on now."""
    _told.stage = stage


def asking() -> None:
    """Say no more of what is being worked on now: a person is being asked, and sees what for."""
    _told.said.add(_told.stage)


@contextmanager
def progress() -> Iterator[None]:
    """Say what is being done while it lasts."""
    global _told
    _told = told = _Told()
    teller = threading.Thread(target=told.tell, args=(AFTER_S,), daemon=True)
    teller.start()
    try:
        yield
    finally:
        told.over.set()
        teller.join()


def at_a_terminal() -> bool:
    """Whether a person is there to be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()
