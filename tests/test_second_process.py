"""Work in a second process: the same answers and errors as in one, and nothing left behind."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import wearstats.second_process
from tests.store.support.small_store import LOADED_ON, make_store
from wearstats.errors import AnalysisError, InputError, Problem
from wearstats.second_process import SecondProcess, second_process
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot


def _process(_anything: object = None) -> int:
    return os.getpid()


def _refuse() -> None:
    raise AnalysisError("too few", needed="more")


def _refuse_input() -> None:
    raise InputError([Problem(place="a.csv, row 2", found="x"), Problem(place="a.csv, row 3", found="y")])


def _die_there() -> str:
    if multiprocessing.parent_process() is not None:
        os._exit(9)
    return "done here"


def _sleep(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def _shafts(snapshot: Snapshot) -> tuple[int, int]:
    shafts: int = snapshot.store.value("select count(*) from shafts")
    return os.getpid(), shafts


def _wake(second: SecondProcess) -> int:
    """Wait until the second process takes work, and give its number."""
    until = time.monotonic() + 60
    while (process := second.begin(_sleep, 0.01)()) == os.getpid():
        assert time.monotonic() < until
    return process


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wearstats.second_process, "_cores", lambda: 2)


def test_alone_work_is_done_once_and_when_it_is_asked_for() -> None:
    done: list[int] = []
    result = SecondProcess().begin(done.append, 1)
    assert done == []
    result()
    result()
    assert done == [1]


def test_one_core_gets_no_second_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wearstats.second_process, "_cores", lambda: 1)
    with second_process() as beside:
        assert beside.begin(_process)() == os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_work_is_done_in_another_process_and_what_it_raises_is_raised_here_with_all_it_says() -> None:
    with second_process("wearstats.errors") as beside:
        assert _wake(beside) != os.getpid()
        with pytest.raises(AnalysisError, match="too few; more") as refused:
            beside.begin(_refuse)()
        assert refused.value.needed == "more"
        with pytest.raises(InputError) as problems:
            beside.begin(_refuse_input)()
        assert [problem.place for problem in problems.value.problems] == ["a.csv, row 2", "a.csv, row 3"]


@pytest.mark.usefixtures("two_cores")
def test_work_of_a_process_that_died_is_done_here() -> None:
    with second_process() as beside:
        _wake(beside)
        first, second = beside.begin(_die_there), beside.begin(_process)
        time.sleep(1)
        assert first() == "done here"
        assert second() == os.getpid()
        assert beside.begin(_process)() == os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_work_that_is_not_begun_when_it_is_wanted_is_done_here() -> None:
    with second_process() as beside:
        _wake(beside)
        begun = [beside.begin(_sleep, 0.5) for _ in range(6)]
        assert begun[-1]() == os.getpid()
        # nor is the very next one lost to whoever wants it while the first is worked on
        assert begun[1]() == os.getpid()
        assert begun[0]() != os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_a_store_goes_along_with_its_snapshot_and_is_opened_there_for_reading(tmp_path: Path) -> None:
    path = make_store(tmp_path / "small.duckdb")
    with open_store(path) as store, second_process() as beside:
        second = _wake(beside)
        there = beside.begin(_shafts, Snapshot(store=store, known_on=LOADED_ON))
        time.sleep(1)
        assert there() == (second, store.value("select count(*) from shafts"))


@pytest.mark.skipif(sys.platform == "win32", reason="signals as Unix has them")
def test_a_killed_process_leaves_no_second_one_behind(tmp_path: Path) -> None:
    script = tmp_path / "first.py"
    script.write_text(
        "import os, signal, time\n"
        "import wearstats.second_process as b\n"
        "b._cores = lambda: 2\n"
        "if __name__ == '__main__':\n"
        "    with b.second_process() as beside:\n"
        "        while (second := beside.begin(os.getpid)()) == os.getpid():\n"
        "            time.sleep(0.05)\n"
        "        print(second, flush=True)\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)
    assert ended.returncode == -signal.SIGKILL, ended.stderr
    second = int(ended.stdout)
    until = time.monotonic() + 20
    while time.monotonic() < until and _lives(second):
        time.sleep(0.05)
    assert not _lives(second)


def _lives(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"
