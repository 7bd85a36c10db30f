"""A child, forked or spawned, asks the store or is told why not; none hangs."""

from __future__ import annotations

import multiprocessing
import queue
from pathlib import Path
from typing import Any

import pytest

from tests.store.support.small_store import make_store
from wearstats.errors import StoreError
from wearstats.store.database.connection import Store, open_store

LONGEST_S = 60


def ask(path: Path, answers: Any) -> None:
    try:
        with open_store(path) as store:
            answers.put(store.value("select count(*) from shafts"))
    except StoreError as refused:
        answers.put(str(refused))


def ask_the_parents(store: Store, answers: Any) -> None:
    try:
        answers.put(store.value("select count(*) from shafts"))
    except StoreError as refused:
        answers.put(str(refused))
    store.close()


def answer_of(method: str, target: Any, first: object) -> object:
    context: Any = multiprocessing.get_context(method)
    answers = context.Queue()
    child = context.Process(target=target, args=(first, answers))
    child.start()
    try:
        return answers.get(timeout=LONGEST_S)
    except queue.Empty:
        child.kill()
        pytest.fail(f"the child did not answer within {LONGEST_S} s")
    finally:
        child.join(LONGEST_S)
        assert child.exitcode is not None, "the child did not end"


def test_a_spawned_child_opens_the_store_that_its_parent_reads(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path) as store:
        before = store.value("select count(*) from shafts")
        assert answer_of("spawn", ask, path) == before
        assert store.value("select count(*) from shafts") == before


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
def test_a_forked_child_opens_it_or_is_told(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path) as store:
        # a copy of this process counts as this process to the database
        told = f"{path}: is already open in this program in another way; close it first"
        assert answer_of("fork", ask, path) in (1, told)
        assert store.value("select count(*) from shafts") == 1
    assert answer_of("fork", ask, path) == 1


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
def test_a_forked_child_that_takes_its_parents_store_is_told(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path) as store:
        said = answer_of("fork", ask_the_parents, store)
        assert "was opened by process" in str(said)
        # what the child did leaves the parent its store
        assert store.value("select count(*) from shafts") == 1


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
def test_a_forked_child_of_a_writer_waits_its_time_and_is_told(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path, write=True) as store:
        assert "was opened by process" in str(answer_of("fork", ask_the_parents, store))
        with store.transaction():
            store.execute("insert into notes values ('shafts', '[\"S1\"]', 'x', 'y', 1, null)")
    with open_store(path) as store:
        assert store.value("select count(*) from notes") >= 1
