"""Try faults in a copy of the project, each in a process that already holds the libraries.

A fault costs little more than the tests that it is tried with: the libraries are loaded once, and every try is a fork
that loads the project anew, its own files compiled already but for the one with the fault.
"""

from __future__ import annotations

import importlib
import json
import os
import resource
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from tests.faults.make_faults import Fault

LIBRARIES = (
    "numpy", "pandas", "duckdb", "altair", "openpyxl", "jinja2", "scipy.stats", "scipy.optimize", "scipy.linalg",
    "scipy.interpolate", "scipy.spatial", "statsmodels.api", "sklearn.isotonic", "sklearn.linear_model", "hypothesis",
    "rich.console", "rich.table", "typer", "threadpoolctl", "vl_convert",
)  # fmt: skip
_WAIT = 15
SEEN, SURVIVED, STOPPED, UNTOUCHED = "seen", "survived", "stopped", "run by none"


class Copy:
    """A copy of the project that faults are put into.

    Parameters
    ----------
    root, folder : Path
        The project, and a folder that is not there yet.
    """

    def __init__(self, root: Path, folder: Path) -> None:
        for name in LIBRARIES:
            try:
                importlib.import_module(name)
            except ImportError:
                continue
        self.folder = folder
        shutil.copytree(root, folder, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache"))

    def run(
        self, tests: Iterable[str], *, plugins: Callable[[], list[object]], seconds: float, keep_compiled: bool = False
    ) -> int | None:
        """Run tests in a fork, so many seconds of the processor; give pytest's exit code, None where it was stopped."""
        child = os.fork()
        if child == 0:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
            self._run_here(list(tests), plugins, keep_compiled=keep_compiled)
        # one that waits for something that never comes takes no time of the processor
        until = time.monotonic() + _WAIT * seconds
        while time.monotonic() < until:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                code = os.waitstatus_to_exitcode(status)
                return None if code in (-signal.SIGXCPU, -signal.SIGKILL) else code
            time.sleep(0.05)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return None

    def _run_here(self, tests: list[str], plugins: Callable[[], list[object]], *, keep_compiled: bool) -> None:
        code = 70
        try:
            silent = os.open(self.folder / "run.log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(silent, 1)
            os.dup2(silent, 2)
            os.chdir(self.folder)
            os.environ["PYTHONPATH"] = str(self.folder)
            sys.dont_write_bytecode = not keep_compiled
            for name in [name for name in sys.modules if name.partition(".")[0] in ("tests", "wearstats")]:
                del sys.modules[name]
            sys.path.insert(0, str(self.folder))
            given = ["-q", "-W", "ignore:Module already imported", "-p", "no:cacheprovider", "-p", "no:xdist", *tests]
            code = int(pytest.main(given, plugins=plugins()))
        except BaseException:  # noqa: BLE001 a fork must end here, and whatever ended it is seen in its log
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)

    def try_out(self, fault: Fault, tests: list[str], *, seconds: float) -> tuple[str, str]:
        """Put a fault in, run tests until one fails, take it out; give what became of it, and the test that failed."""
        if not tests:
            return UNTOUCHED, ""
        file, failed = self.folder / fault.path, self.folder / "failed.txt"
        text = file.read_text(encoding="utf-8")
        for compiled in file.parent.glob(f"__pycache__/{file.stem}.*.pyc"):
            compiled.unlink()
        failed.unlink(missing_ok=True)
        file.write_text(fault.put_into(text), encoding="utf-8")
        try:
            ended = self.run(
                sorted({test.partition("::")[0] for test in tests}),
                plugins=lambda: [OnlyThese(tests, failed)],
                seconds=seconds,
            )
        finally:
            file.write_text(text, encoding="utf-8")
        if ended is None:
            return STOPPED, ""
        return (SURVIVED, "") if ended == 0 else (SEEN, failed.read_text("utf-8") if failed.exists() else "at loading")


class OnlyThese:
    """A plugin of pytest: runs only these tests, in this order, until one fails, and writes down which.

    Parameters
    ----------
    tests : list of str
        Their names as pytest gives them.
    failed : Path
        File for the name.
    """

    def __init__(self, tests: list[str], failed: Path) -> None:
        self._place, self._failed = {test: at for at, test in enumerate(tests)}, failed

    def pytest_collection_modifyitems(self, session: pytest.Session, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (each for each in items if each.nodeid in self._place), key=lambda each: self._place[each.nodeid]
        )
        session.config.option.maxfail = 1

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self._failed.exists():
            self._failed.write_text(report.nodeid, encoding="utf-8")


class Touched:
    """What each test runs, as `tests.faults.touching` wrote it.

    Parameters
    ----------
    root : Path
        The project's root.
    files : Path
        Its JSON.
    """

    def __init__(self, root: Path, *files: Path) -> None:
        self._root = root
        self._seconds: dict[str, float] = {}
        self._by_place: dict[tuple[str, int], set[str]] = {}
        self._by_file: dict[str, set[str]] = {}
        for file in files:
            for test, told in json.loads(file.read_text(encoding="utf-8")).items():
                self._seconds[test] = told["seconds"]
                for path, line in told["places"]:
                    self._by_place.setdefault((path, line), set()).add(test)
                    self._by_file.setdefault(path, set()).add(test)

    def files(self) -> list[str]:
        """Name the files of all tests."""
        return sorted({test.partition("::")[0] for test in self._seconds})

    def _naming(self, module: str) -> set[str]:
        """Name the tests in files that import a module."""
        files = [file for file in self.files() if (self._root / file).exists()]
        named = {file for file in files if f"from {module} import" in (self._root / file).read_text(encoding="utf-8")}
        return {test for test in self._seconds if test.partition("::")[0] in named}

    def tests_of(self, fault: Fault, room: str, *, seconds: float) -> list[str]:
        """Name the tests that run the function with the fault, those of its room and the short ones first.

        What belongs to no function may be used by any test that imports the file, or runs a function of it.
        """
        path = fault.path.as_posix()
        found = self._by_place.get((path, fault.begins or 0), set())
        naming: set[str] = set()
        if fault.begins is None:
            naming = self._naming(path.removesuffix(".py").replace("/", "."))
            found = naming | self._by_file.get(path, set())
        order = sorted(found, key=lambda test: (test not in naming, f"/{room}/" not in test, self._seconds[test]))
        taken: list[str] = []
        total = 0.0
        for test in order:
            total += self._seconds[test]
            if total > seconds and taken:
                break
            taken.append(test)
        return taken
