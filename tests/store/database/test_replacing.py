"""What takes another file's place: nothing is lost by it, nobody sees more than before, and links stay links."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from wearstats.store.archive.backup import backup_store, restore_store
from wearstats.store.database.connection import create_store, open_store


def _mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "s.duckdb"
    create_store(path)
    path.chmod(0o600)
    return path


def test_a_new_store_keeps_the_one_before_and_its_mode(store: Path) -> None:
    before = store.read_bytes()
    kept = create_store(store, force=True)
    assert kept is not None
    assert kept.read_bytes() == before
    assert (_mode(store), _mode(kept)) == (0o600, 0o600)


def test_the_first_store_has_the_mode_of_new_files(tmp_path: Path) -> None:
    (tmp_path / "plain").touch()
    assert create_store(tmp_path / "s.duckdb") is None
    assert _mode(tmp_path / "s.duckdb") == _mode(tmp_path / "plain")


def test_a_backup_keeps_the_one_before_and_has_the_stores_mode(store: Path, tmp_path: Path) -> None:
    to = tmp_path / "b.duckdb"
    assert backup_store(store, to).kept is None
    assert _mode(to) == 0o600
    before = to.read_bytes()
    report = backup_store(store, to, force=True)
    assert report.kept is not None
    assert report.kept.read_bytes() == before
    assert report.to_dict()["kept"] == report.kept


def test_a_restored_store_keeps_the_one_before_and_its_mode(store: Path, tmp_path: Path) -> None:
    saved = tmp_path / "b.duckdb"
    backup_store(store, saved)
    saved.chmod(0o644)
    report = restore_store(saved, store, force=True)
    assert report.kept is not None
    assert _mode(store) == 0o600
    with open_store(store, write=True):
        assert _mode(store) == 0o600
    missing = tmp_path / "again.duckdb"
    saved.chmod(0o640)
    restore_store(saved, missing)
    assert _mode(missing) == 0o640


def test_a_link_is_followed_and_stays_a_link(store: Path, tmp_path: Path) -> None:
    link = tmp_path / "elsewhere" / "link.duckdb"
    link.parent.mkdir()
    link.symlink_to(store)
    create_store(link, force=True)
    backup_store(link, tmp_path / "b.duckdb")
    restore_store(tmp_path / "b.duckdb", link, force=True)
    with open_store(link, write=True) as opened:
        assert opened.path == store.resolve()
    assert link.is_symlink()
    assert os.listdir(link.parent) == ["link.duckdb"]
