"""A store goes from version to version whole, or stays where it was."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from wearstats.errors import StoreError
from wearstats.store.database import migrations
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.database.migrations import (
    Migration,
    known_migrations,
    migrate,
    newest_version,
    read_migrations,
    store_version,
)

KNOWN = known_migrations()
TIMES = Migration(
    number=len(KNOWN) + 1, name="times", sql="create table times (x integer); create table places (y text);"
)
NAMES = Migration(number=len(KNOWN) + 2, name="names", sql="alter table times add column name varchar;")
BROKEN = Migration(number=len(KNOWN) + 2, name="broken", sql="create table half (x integer); drop table nowhere;")
Grow = Callable[[str], None]


def _tables(connection: duckdb.DuckDBPyConnection) -> set[str]:
    return {name for (name,) in connection.execute("select table_name from duckdb_tables()").fetchall()}


def _version_of(path: Path) -> int | None:
    with duckdb.connect(str(path), read_only=True) as connection:
        return store_version(connection)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    create_store(tmp_path / "kept.duckdb")
    return tmp_path / "kept.duckdb"


@pytest.fixture
def grow(monkeypatch: pytest.MonkeyPatch) -> Grow:
    """Let the program know one change more than the store has seen."""

    def with_change(sql: str) -> None:
        changes = (*known_migrations(), Migration(number=newest_version() + 1, name="further", sql=sql))
        monkeypatch.setattr(migrations, "known_migrations", lambda: changes)

    return with_change


def test_changes_are_made_once_and_recorded() -> None:
    with duckdb.connect() as connection:
        assert store_version(connection) is None
        assert migrate(connection, migrations=(*KNOWN, TIMES)) == (*KNOWN, TIMES)
        assert store_version(connection) == len(KNOWN) + 1
        assert migrate(connection, migrations=(*KNOWN, TIMES, NAMES)) == (NAMES,)
        assert migrate(connection, migrations=(*KNOWN, TIMES, NAMES)) == ()
        rows = connection.execute("select number, name, applied_at is null from migrations order by 1").fetchall()
        assert rows == [(change.number, change.name, False) for change in (*KNOWN, TIMES, NAMES)]


def test_a_change_and_its_record_are_one_transaction() -> None:
    with duckdb.connect() as connection:
        with pytest.raises(duckdb.CatalogException, match="nowhere"):
            migrate(connection, migrations=(*KNOWN, TIMES, BROKEN))
        # the one before is made and recorded, of the broken one there is nothing
        assert store_version(connection) == len(KNOWN) + 1
        assert {"migrations", "times", "places"} <= _tables(connection)
        assert "half" not in _tables(connection)
        assert migrate(connection, migrations=(*KNOWN, TIMES, NAMES)) == (NAMES,)


def test_a_gap_in_the_numbers_is_refused(tmp_path: Path) -> None:
    for number in (1, 3):
        (tmp_path / f"000{number}_change.sql").write_text("select 1;", encoding="utf-8")
    with pytest.raises(ValueError, match="leave a gap"):
        read_migrations(tmp_path)
    (tmp_path / "0002_change.sql").write_text("select 1;", encoding="utf-8")
    assert [change.number for change in read_migrations(tmp_path)] == [1, 2, 3]


def test_a_new_store_has_every_change(path: Path) -> None:
    assert _version_of(path) == newest_version() == len(known_migrations())


def test_an_older_store_is_brought_up_to_date_when_opened_for_writing(path: Path, grow: Grow) -> None:
    old = newest_version()
    with open_store(path, write=True) as store:
        store.execute(
            "insert into intakes (intake, added_on, added_at, files, bulk) "
            "values (1, date '2026-01-01', timestamp '2026-01-01', 1, true)"
        )
    grow("create table further (x integer);")
    with open_store(path, write=True) as store:
        assert store.value("select count(*) from further") == 0
        assert store.value("select count(*) from intakes") == 1
    assert _version_of(path) == old + 1
    copies = list(path.parent.glob(f"kept-version-{old}-*.duckdb"))
    assert len(copies) == 1
    assert _version_of(copies[0]) == old
    with duckdb.connect(str(copies[0]), read_only=True) as copy:
        assert copy.execute("select count(*) from intakes").fetchall() == [(1,)]


def test_an_older_store_is_not_read_as_if_it_were_new(path: Path, grow: Grow) -> None:
    grow("create table further (x integer);")
    versions = rf"version {len(KNOWN)} of {len(KNOWN) + 1}"
    with pytest.raises(StoreError, match=rf"last written by an older program \({versions}\)"):
        open_store(path)
    assert _version_of(path) == len(KNOWN)
    assert list(path.parent.iterdir()) == [path]


def test_a_failure_in_the_middle_leaves_the_old_version(
    path: Path, grow: Grow, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = newest_version()
    before = path.stat().st_size
    grow("create table half (x integer); drop table shafts; insert into nowhere values (1);")
    with pytest.raises(duckdb.CatalogException, match="nowhere"):
        open_store(path, write=True)
    assert _version_of(path) == old
    monkeypatch.undo()
    with open_store(path, write=True) as store:
        assert store.value("select count(*) from shafts") == 0
        assert store.value("select count(*) from duckdb_tables() where table_name = 'half'") == 0
    assert path.stat().st_size >= before


def test_a_newer_store_is_refused_and_left_alone(path: Path) -> None:
    with duckdb.connect(str(path)) as connection:
        connection.execute("insert into migrations values (99, 'to come', now()::timestamp, null)")
    for write in (False, True):
        with pytest.raises(StoreError, match=rf"is of version 99; .*up to {len(KNOWN)}; install a newer wearstats"):
            open_store(path, write=write)
    assert _version_of(path) == 99
    assert list(path.parent.iterdir()) == [path]


def test_changed_views_are_made_anew_without_a_new_version(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    views = (*migrations.known_views(), "create or replace macro known_nothing(as_of) as table select as_of;")
    monkeypatch.setattr(migrations, "known_views", lambda: views)
    with pytest.raises(StoreError, match="last written by an older program"):
        open_store(path)
    with open_store(path, write=True) as store:
        assert store.rows("select * from known_nothing(3)") == [(3,)]
    with open_store(path) as store:
        assert store.rows("select * from known_nothing(3)") == [(3,)]
    # nothing of the data changes, so no copy is kept
    assert list(path.parent.iterdir()) == [path]
