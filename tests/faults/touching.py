"""Which functions each test runs, and how long it takes: so that a fault is tried with the tests that can see it.

A plugin of pytest: `Touching(package, out)` follows every call of a function of the package while a test runs or one of
its fixtures is made, and writes both down when the run ends. A fixture made once for many tests counts for each.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from collections.abc import Generator
from pathlib import Path
from types import FrameType

import pytest

Place = tuple[str, int]
"""File, from the project's root, and the line on which a function begins, its decorators included."""


class Touching:
    """What was run, by test and by fixture.

    Parameters
    ----------
    root : Path
        The project's root.
    out : Path
        JSON: by test its ``seconds`` of the processor and the ``places`` that it runs.
    """

    def __init__(self, root: Path, out: Path) -> None:
        self._from, self._package, self._out = len(f"{root}/"), f"{root}/wearstats/", out
        self._open: list[set[Place]] = []
        self._fixtures: dict[str, tuple[float, set[Place]]] = {}
        self._tests: dict[str, tuple[float, set[Place]]] = {}
        self._made: dict[str, list[str]] = {}

    def _called(self, frame: FrameType, _event: str, _given: object) -> None:
        code = frame.f_code
        if code.co_filename.startswith(self._package) and self._open:
            self._open[-1].add((code.co_filename[self._from :], code.co_firstlineno))

    def pytest_sessionstart(self) -> None:
        sys.settrace(self._called)
        threading.settrace(self._called)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Generator[None, object, object]:
        name = f"{fixturedef.baseid}::{fixturedef.argname}"
        began, touched = time.process_time(), set[Place]()
        self._open.append(touched)
        try:
            return (yield)
        finally:
            self._open.pop()
            sys.settrace(self._called)
            spent, before = self._fixtures.get(name, (0.0, set()))
            self._fixtures[name] = max(spent, time.process_time() - began), before | touched

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Generator[None, object, object]:
        began, touched = time.process_time(), set[Place]()
        self._open.append(touched)
        try:
            return (yield)
        finally:
            self._open.pop()
            sys.settrace(self._called)
            self._tests[item.nodeid] = time.process_time() - began, touched
            known = getattr(item, "_fixtureinfo").name2fixturedefs  # noqa: B009
            self._made[item.nodeid] = [f"{each[-1].baseid}::{name}" for name, each in known.items() if each]

    def pytest_sessionfinish(self) -> None:
        sys.settrace(None)
        told = {}
        for test, (seconds, places) in self._tests.items():
            needed = [self._fixtures[name] for name in self._made[test] if name in self._fixtures]
            told[test] = {
                "seconds": round(seconds + sum(spent for spent, _ in needed), 3),
                "places": sorted(places.union(*(each for _, each in needed))),
            }
        self._out.write_text(json.dumps(told), encoding="utf-8")
