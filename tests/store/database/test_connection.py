"""Opening a store: every way in which it can fail says what to do, and readers do not disturb each other."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import duckdb
import pytest

from tests.store.support.small_store import make_store
from wearstats.errors import StoreError
from wearstats.store.database.connection import create_store, open_store, refuse_if_held

HOLD = """
import sys
from wearstats.store.database.connection import open_store
with open_store(sys.argv[1], write=sys.argv[2] == "write"):
    print("open", flush=True)
    sys.stdin.readline()
"""


@contextmanager
def _held(path: Path, how: str) -> Iterator[int]:
    """Let another process hold a store; gives its process number."""
    arguments = [sys.executable, "-c", HOLD, str(path), how]
    with subprocess.Popen(arguments, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdin is not None
        assert holder.stdout is not None
        try:
            assert holder.stdout.readline() == "open\n"
            yield holder.pid
        finally:
            holder.stdin.close()
            holder.wait(timeout=20)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    create_store(tmp_path / "kept.duckdb")
    return tmp_path / "kept.duckdb"


@pytest.mark.parametrize("write", [False, True])
def test_missing(tmp_path: Path, write: bool) -> None:
    with pytest.raises(StoreError, match=r"none\.duckdb: there is no store here; make one with: wearstats store new"):
        open_store(tmp_path / "none.duckdb", write=write)
    assert list(tmp_path.iterdir()) == []


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is a directory, not a store; name the file in it"):
        open_store(tmp_path)


@pytest.mark.parametrize("content", [b"", b"shaft,pattern\nS1,D8\n", bytes(range(256)) * 64])
@pytest.mark.parametrize("write", [False, True])
def test_not_a_duckdb_file(tmp_path: Path, content: bytes, write: bool) -> None:
    path = tmp_path / "other.duckdb"
    path.write_bytes(content)
    with pytest.raises(
        StoreError, match=r"other\.duckdb: .*(not a DuckDB file|not a wearstats store|cannot be opened)"
    ):
        open_store(path, write=write)
    assert path.read_bytes() == content


@pytest.mark.parametrize("name", ["shafts.csv", "shafts.parquet", "shafts.json"])
@pytest.mark.parametrize("write", [False, True])
def test_a_file_of_data_is_no_store(tmp_path: Path, name: str, write: bool) -> None:
    (tmp_path / name).write_text("shaft,pattern\nS1,D8\n", encoding="utf-8")
    with pytest.raises(StoreError, match=r"not a DuckDB file|not a wearstats store"):
        open_store(tmp_path / name, write=write)


def test_a_duckdb_file_that_is_no_store(tmp_path: Path) -> None:
    path = tmp_path / "other.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute("create table t (x integer)")
    for write in (False, True):
        with pytest.raises(StoreError, match="is a DuckDB file but not a wearstats store"):
            open_store(path, write=write)


def test_a_damaged_store(path: Path) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 3])
    with pytest.raises(StoreError, match=r"kept\.duckdb: "):
        open_store(path)


@pytest.mark.parametrize("write", [False, True])
def test_held_by_a_writer(path: Path, write: bool) -> None:
    told: list[str] = []
    with _held(path, "write") as holder:
        with pytest.raises(StoreError, match=f"in use by process {holder}; waited 0.2 s; .*try again"):
            open_store(path, write=write, wait_s=0.2, on_wait=told.append)
        # told once, not at every try
        assert told == [f"{path} is in use by process {holder}; waiting up to 0.2 s"]
        with pytest.raises(StoreError, match="in use"):
            create_store(path, force=True)
        with pytest.raises(StoreError, match="in use"):
            refuse_if_held(path)
    with open_store(path, write=write):
        pass


def test_many_may_read_but_none_writes_then(path: Path) -> None:
    with _held(path, "read"), _held(path, "read") as second:
        with open_store(path) as one, open_store(path) as other:
            assert one.value("select count(*) from shafts") == other.value("select count(*) from shafts") == 0
        with pytest.raises(StoreError, match="in use by process") as refused:
            open_store(path, write=True, wait_s=0.1)
        assert second != os.getpid()
        assert str(os.getpid()) not in str(refused.value)


def test_it_is_opened_when_the_other_lets_go(path: Path) -> None:
    with _held(path, "write") as holder:
        code = "import sys\nfrom wearstats.store.database.connection import open_store\n"
        code += (
            "with open_store(sys.argv[1], wait_s=20, on_wait=lambda said: print(said, flush=True)):\n    print('in')\n"
        )
        arguments = [sys.executable, "-c", code, str(path)]
        waiting = subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True)
        assert waiting.stdout is not None
        assert f"in use by process {holder}" in waiting.stdout.readline()
    with waiting:
        assert waiting.stdout.readline() == "in\n"
    assert waiting.returncode == 0


def test_a_store_is_not_overwritten_unless_said(path: Path) -> None:
    with open_store(path, write=True) as store:
        store.execute(
            "insert into intakes (intake, added_on, added_at, files, bulk) "
            "values (1, date '2026-01-01', timestamp '2026-01-01', 1, true)"
        )
    with pytest.raises(StoreError, match=r"is there already; .*--force"):
        create_store(path)
    kept = create_store(path, force=True)
    with open_store(path) as store:
        assert store.value("select count(*) from intakes") == 0
    assert kept is not None
    with open_store(kept) as store:
        assert store.value("select count(*) from intakes") == 1
    assert set(path.parent.iterdir()) == {path, kept}


def test_a_file_that_is_no_store_is_not_overwritten_by_a_new_one(tmp_path: Path) -> None:
    path = tmp_path / "letters.txt"
    path.write_text("not to be lost", encoding="utf-8")
    with pytest.raises(StoreError, match="not a DuckDB file"):
        create_store(path, force=True)
    assert path.read_text(encoding="utf-8") == "not to be lost"


def test_a_new_store_needs_its_folder(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"there is no folder .*; make it first"):
        create_store(tmp_path / "no" / "kept.duckdb")
    with pytest.raises(StoreError, match="is a directory; name a file"):
        create_store(tmp_path, force=True)


def test_reading_cannot_write(path: Path, tmp_path: Path) -> None:
    with open_store(path) as store:
        with pytest.raises(duckdb.InvalidInputException, match="read-only"):
            store.execute(
                'insert into advice (shaft, given_on, inspections, "do", undersize_um, method, risk, version) '
                "values ('S1', '2026-01-01', [], 'send', 50, null, 0.1, '0')"
            )
        # nor any other file
        with pytest.raises(duckdb.PermissionException):
            store.execute(f"copy shafts to '{tmp_path / 'out.csv'}'")


def test_a_transaction_is_all_or_nothing(path: Path) -> None:
    with open_store(path, write=True) as store:
        with suppress(KeyError), store.transaction():
            store.execute(
                "insert into intakes (intake, added_on, added_at, files, bulk) "
                "values (1, date '2026-01-01', timestamp '2026-01-01', 1, true)"
            )
            assert store.value("select count(*) from intakes") == 1
            raise KeyError("something went wrong")
        assert store.value("select count(*) from intakes") == 0


def test_a_query_takes_the_parameters_of_its_header(path: Path) -> None:
    with open_store(path) as store:
        with pytest.raises(TypeError, match=r"patterns takes \('as_of',.*not \('on',\)"):
            store.query("store/patterns", on="2026-01-01")
        with pytest.raises(StoreError, match="no statement 'nothing'"):
            store.query("nothing")


@pytest.mark.parametrize("write", [False, True])
def test_the_database_prints_nothing_between_the_answers(tmp_path: Path, write: bool) -> None:
    """A bar of progress on the terminal would spoil a JSON document."""
    with open_store(make_store(tmp_path / "kept.duckdb"), write=write) as store:
        assert store.value("select current_setting('enable_progress_bar')") is False
