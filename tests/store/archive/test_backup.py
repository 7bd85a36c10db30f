"""A saved store holds all that the store held, and comes back only where nothing is lost by it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.store.support.small_store import LATE, add, make_store
from wearstats.errors import StoreError
from wearstats.report.remarks.document import plain
from wearstats.store.archive.backup import backup_store, restore_store
from wearstats.store.database import migrations
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.database.migrations import Migration, known_migrations, newest_version


@pytest.fixture(scope="module")
def corrected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a store that has a history and rows kept out."""
    path = make_store(tmp_path_factory.mktemp("corrected") / "small.duckdb")
    with open_store(path, write=True) as store:
        late = {"fitting": "F1", "seen_on": "2026-03-18", "state": "broken"}
        add(store, {"follow_ups": [late]}, added_on=LATE, correct=True)
        store.execute(
            'insert into advice (shaft, given_on, inspections, "do", undersize_um, method, risk, version) '
            "values ('S1', date '2026-03-21', ['I2'], 'send', 50, null, 0.04, '0.1.0')"
        )
    return path


@pytest.fixture
def path(corrected: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(corrected, tmp_path))


def _everything(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    with duckdb.connect(str(path), read_only=True) as connection:
        names = connection.execute("select table_name from duckdb_tables() order by 1").fetchall()
        return {name: connection.execute(f"select * from {name} order by all").fetchall() for (name,) in names}


def _definitions(path: Path) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(path), read_only=True) as connection:
        return connection.execute(
            "select function_name, macro_definition from duckdb_functions() where not internal "
            "union all select table_name, constraint_text from duckdb_constraints() order by all"
        ).fetchall()


def test_a_backup_holds_everything(path: Path, tmp_path: Path) -> None:
    saved = tmp_path / "saved.duckdb"
    report = backup_store(path, saved)
    held = _everything(path)
    assert _everything(saved) == held
    assert _definitions(saved) == _definitions(path)
    assert held["history_follow_ups"]
    assert held["advice"]
    assert report.tables == len(held)
    assert report.rows == sum(map(len, held.values()))
    counted = {"tables": report.tables, "rows": report.rows}
    assert plain(report) == {"from": str(path), "to": str(saved), "kept": None} | counted
    assert sorted(tmp_path.iterdir()) == [saved, path]


def test_a_backup_is_itself_a_store(path: Path, tmp_path: Path) -> None:
    backup_store(path, tmp_path / "saved.duckdb")
    with open_store(tmp_path / "saved.duckdb", write=True) as store:
        add(store, {"shafts": [{"shaft": "S2", "pattern": "D8"}]}, added_on=LATE)
        with pytest.raises(duckdb.ConstraintException):
            store.execute("insert into shafts (shaft, pattern, intake) values ('S2', 'D8', 1)")


def test_a_round_trip_gives_the_same_store(path: Path, tmp_path: Path) -> None:
    before = _everything(path)
    backup_store(path, tmp_path / "saved.duckdb")
    with open_store(path, write=True) as store:
        store.execute("delete from readings")
    with pytest.raises(StoreError, match=r"small\.duckdb: is there already; .*--force"):
        restore_store(tmp_path / "saved.duckdb", path)
    restore_store(tmp_path / "saved.duckdb", path, force=True)
    assert _everything(path) == before
    restore_store(tmp_path / "saved.duckdb", tmp_path / "further.duckdb")
    assert _everything(tmp_path / "further.duckdb") == before


def test_a_backup_is_made_while_others_read(path: Path, tmp_path: Path) -> None:
    code = "import sys\nfrom wearstats.store.database.connection import open_store\n"
    code += "with open_store(sys.argv[1]):\n    print('open', flush=True)\n    sys.stdin.readline()\n"
    arguments = [sys.executable, "-c", code, str(path)]
    with subprocess.Popen(arguments, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as reader:
        assert reader.stdin is not None
        assert reader.stdout is not None
        assert reader.stdout.readline() == "open\n"
        backup_store(path, tmp_path / "saved.duckdb")
        # but a store that is being read is not replaced under the reader
        with pytest.raises(StoreError, match=f"in use by process {reader.pid}"):
            restore_store(tmp_path / "saved.duckdb", path, force=True)
        reader.stdin.close()
    assert _everything(tmp_path / "saved.duckdb") == _everything(path)


def test_nothing_is_overwritten_unless_said(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "letters.txt"
    other.write_text("not to be lost", encoding="utf-8")
    with pytest.raises(StoreError, match=r"letters\.txt: is there already; .*--force"):
        backup_store(path, other)
    assert other.read_text(encoding="utf-8") == "not to be lost"
    with pytest.raises(StoreError, match="is the very file that is to be copied"):
        backup_store(path, path, force=True)
    with pytest.raises(StoreError, match=r"is a directory; name a file, such as .*small\.duckdb"):
        backup_store(path, tmp_path, force=True)
    with pytest.raises(StoreError, match=r"there is no folder .*none; make it first"):
        backup_store(path, tmp_path / "none" / "saved.duckdb")
    backup_store(path, other, force=True)
    assert _everything(other) == _everything(path)


def test_a_damaged_store_can_be_replaced(path: Path, tmp_path: Path) -> None:
    backup_store(path, tmp_path / "saved.duckdb")
    before = _everything(path)
    path.write_bytes(path.read_bytes()[:5000])
    restore_store(tmp_path / "saved.duckdb", path, force=True)
    assert _everything(path) == before


@pytest.mark.parametrize("content", [b"", b"shaft,pattern\nS1,D8\n"])
def test_only_a_store_is_restored(path: Path, tmp_path: Path, content: bytes) -> None:
    before = path.read_bytes()
    other = tmp_path / "other.duckdb"
    other.write_bytes(content)
    with pytest.raises(StoreError, match=r"other\.duckdb: "):
        restore_store(other, path, force=True)
    with pytest.raises(StoreError, match=r"none\.duckdb: there is no such file; name the file that a backup"):
        restore_store(tmp_path / "none.duckdb", path, force=True)
    assert path.read_bytes() == before


def test_a_backup_of_a_newer_program_is_refused(path: Path, tmp_path: Path) -> None:
    backup_store(path, tmp_path / "saved.duckdb")
    with duckdb.connect(str(tmp_path / "saved.duckdb")) as connection:
        connection.execute("insert into migrations values (99, 'to come', now()::timestamp, null)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match=r"is of version 99; .*install a newer wearstats"):
        restore_store(tmp_path / "saved.duckdb", path, force=True)
    assert path.read_bytes() == before


def test_a_backup_of_an_older_program_is_brought_up_to_date(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = tmp_path / "saved.duckdb"
    backup_store(path, saved)
    before = saved.read_bytes()
    change = Migration(number=newest_version() + 1, name="further", sql="create table further (x integer);")
    changes = (*known_migrations(), change)
    monkeypatch.setattr(migrations, "known_migrations", lambda: changes)
    restore_store(saved, tmp_path / "kept.duckdb")
    with open_store(tmp_path / "kept.duckdb") as store:
        assert store.value("select count(*) from further") == 0
        assert store.value("select count(*) from readings") == 16
    # the backup stays as it was, and can itself be saved again
    assert saved.read_bytes() == before
    backup_store(saved, tmp_path / "again.duckdb")
    assert sorted(file.name for file in tmp_path.iterdir()) == [
        "again.duckdb", "kept.duckdb", "saved.duckdb", "small.duckdb",
    ]  # fmt: skip


def test_a_copy_that_holds_less_is_refused(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from wearstats.store.archive import backup as archive

    counted = archive._counts
    monkeypatch.setattr(
        archive,
        "_counts",
        lambda store, database: counted(store, database) | ({"readings": 15} if database == "copied" else {}),
    )
    with pytest.raises(StoreError, match="the copy does not hold as many rows: readings"):
        backup_store(path, tmp_path / "saved.duckdb")
    assert list(tmp_path.iterdir()) == [path]


def test_an_empty_store_is_saved_too(tmp_path: Path) -> None:
    create_store(tmp_path / "empty.duckdb")
    backup_store(tmp_path / "empty.duckdb", tmp_path / "saved.duckdb")
    assert _everything(tmp_path / "saved.duckdb") == _everything(tmp_path / "empty.duckdb")


def test_a_file_name_may_have_any_signs(path: Path, tmp_path: Path) -> None:
    odd = tmp_path / 'the owner\'s "store"; 2026.duckdb'
    backup_store(path, odd)
    backup_store(odd, tmp_path / "plain.duckdb")
    assert _everything(tmp_path / "plain.duckdb") == _everything(path)
