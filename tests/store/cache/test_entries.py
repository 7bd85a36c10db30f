"""The folder beside the store: whole entries or none, the store's mode, no links, no more than may be."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from wearstats.store.cache import entries as room
from wearstats.store.cache.entries import Entries, cache_folder, clear_cache


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "s.duckdb"
    path.write_bytes(b"store")
    return path


def test_what_was_kept_is_found_by_its_name_alone(store: Path) -> None:
    kept = Entries(store)
    kept.write("a.npz", b"\0one")
    kept.write_document("b.json", {"value": 0.1 + 0.2, "text": "µ"})
    assert kept.read("a.npz") == b"\0one"
    assert kept.read_document("b.json") == {"value": 0.1 + 0.2, "text": "µ"}
    assert kept.read("c") is None
    assert kept.read_document("c") is None
    assert (kept.has("a.npz"), kept.has("c")) == (True, False)
    assert not [*cache_folder(store).glob("making-*")]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o644, 0o660])
def test_entries_have_the_stores_mode(store: Path, mode: int) -> None:
    store.chmod(mode)
    Entries(store).write("a", b"x")
    assert stat.S_IMODE((cache_folder(store) / "a").stat().st_mode) == mode
    folder = stat.S_IMODE(cache_folder(store).stat().st_mode)
    # whoever may not read the store may not look into the folder
    assert folder & 0o055 == (mode & 0o044) | (mode & 0o044) >> 2


@pytest.mark.parametrize("spoiled", [b"", b"[]", b"{", b"[" * 100_000, b"\xff\0", b'{"x": 1}', b'{"document": 1}'])
def test_a_spoiled_document_is_absent(store: Path, spoiled: bytes) -> None:
    kept = Entries(store)
    kept.write("a", spoiled)
    assert kept.read_document("a") is None


def test_a_document_in_which_something_was_changed_is_absent(store: Path) -> None:
    kept = Entries(store)
    kept.write_document("a", {"value": 1.0})
    file = cache_folder(store) / "a"
    told = json.loads(file.read_text(encoding="utf-8"))
    told["document"]["value"] = 9.5
    file.write_text(json.dumps(told), encoding="utf-8")
    assert kept.read_document("a") is None


def test_links_are_not_followed(store: Path, tmp_path: Path) -> None:
    kept = Entries(store)
    kept.write("a", b"x")
    other = tmp_path / "other"
    other.write_bytes(b"mine")
    link = cache_folder(store) / "b"
    link.symlink_to(other)
    assert kept.read("b") is None
    # writing puts an entry in the link's place
    kept.write("b", b"new")
    assert (kept.read("b"), other.read_bytes()) == (b"new", b"mine")


def test_a_folder_that_is_a_link_is_left_alone(store: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "a").write_bytes(b"x")
    cache_folder(store).symlink_to(elsewhere)
    kept = Entries(store)
    assert kept.read("a") is None
    kept.write("b", b"y")
    assert [file.name for file in elsewhere.iterdir()] == ["a"]
    clear_cache(store)
    assert (elsewhere / "a").exists()


def test_a_file_in_the_folders_place_is_left_alone(store: Path) -> None:
    cache_folder(store).write_bytes(b"mine")
    kept = Entries(store)
    kept.write("a", b"x")
    assert kept.read("a") is None
    assert cache_folder(store).read_bytes() == b"mine"


def test_what_was_not_asked_for_longest_goes_first(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "MOST_BYTES", 250)
    kept = Entries(store)
    for at, name in enumerate("ab"):
        kept.write(name, b"x" * 100)
        os.utime(cache_folder(store) / name, (at, at))
    assert kept.read("a") is not None
    kept.write("c", b"x" * 100)
    assert [kept.has(name) for name in "abc"] == [True, False, True]


def test_an_entry_that_is_too_large_is_not_kept(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "MOST_OF_ONE", 10)
    kept = Entries(store)
    kept.write("a", b"x" * 11)
    assert not kept.has("a")


def test_a_folder_that_cannot_be_written_to_is_no_hindrance(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError

    monkeypatch.setattr("wearstats.store.cache.entries.tempfile.mkstemp", refuse)
    Entries(store).write("a", b"x")
    assert not [*cache_folder(store).iterdir()]


def test_all_of_it_can_go(store: Path) -> None:
    Entries(store).write("a", b"x")
    clear_cache(store)
    assert not cache_folder(store).exists()
    clear_cache(store)
