"""Photos into the store and its folder, through backup and back, and what is refused."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.photos.drawn import PLACE, jpeg, png
from tests.store.support.small_store import LATE, make_store
from wearstats.errors import InputError, StoreError, UsageError
from wearstats.store.archive.backup import backup_store, restore_store
from wearstats.store.archive.export import export_folder
from wearstats.store.database.connection import Store, open_store
from wearstats.store.keep_photos import PhotosKept, keep_photos
from wearstats.store.photos import folder as photo_folder
from wearstats.store.photos.folder import photo_findings, photos_folder
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import undo

DAY = datetime.date(2026, 6, 1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    path = make_store(tmp_path / "bench.duckdb")
    path.chmod(0o640)
    with open_store(path, write=True) as opened:
        yield opened


def _keep(
    store: Store,
    tmp_path: Path,
    content: bytes,
    name: str = "marks.jpg",
    *,
    shaft: str = "S1",
    fitting: str | None = None,
    shows: str | None = None,
) -> PhotosKept:
    file = tmp_path / name
    file.write_bytes(content)
    return keep_photos(store, [file], added_on=DAY, shaft=shaft, fitting=fitting, shows=shows)


def test_a_photo_lies_under_its_digest_with_the_stores_mode(store: Store, tmp_path: Path) -> None:
    kept = _keep(store, tmp_path, jpeg(), fitting="F1", shows="contact")
    assert store.rows("select shaft, fitting, inspection, shows, file_name from photos") == [
        ("S1", "F1", None, "contact", "marks.jpg")
    ]
    (file,) = kept.folder.iterdir()
    assert file.name == f"{store.value('select sha256 from photos')}.jpg"
    assert kept.photos == (f"P-{file.stem[:12]}",)
    assert PLACE not in file.read_bytes()
    assert file.stat().st_mode & 0o777 == 0o640
    assert kept.folder.stat().st_mode & 0o777 == 0o750
    assert photo_findings(store) == []


def test_the_same_picture_twice_is_kept_once(store: Store, tmp_path: Path) -> None:
    first = _keep(store, tmp_path, png(), shows="contact")
    again = _keep(store, tmp_path, png(), "other name.png")
    assert (again.photos, [file.duplicate for file in again.report.files]) == (first.photos, [1])
    assert len(list(first.folder.iterdir())) == 1


def test_what_is_no_plain_picture_is_refused_and_nothing_is_kept(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(InputError, match=r"marks.jpg: is no JPEG, PNG or WebP picture by its first bytes"):
        _keep(store, tmp_path, b"<html>")
    link = tmp_path / "link.png"
    (tmp_path / "real.png").write_bytes(png())
    link.symlink_to(tmp_path / "real.png")
    with pytest.raises(InputError, match=r"link.png: is a link") as refused:
        keep_photos(store, [tmp_path / "real.png", link, tmp_path / "none.png"], added_on=DAY, shaft="S1")
    assert len(refused.value.problems) == 2
    monkeypatch.setattr("wearstats.store.keep_photos.MOST_BYTES", 20)
    with pytest.raises(InputError, match=r"has over 20 bytes"):
        _keep(store, tmp_path, png())
    assert not photos_folder(store.path).exists()
    assert store.value("select count(*) from photos") == 0


def test_a_folder_that_is_a_link_is_not_written_into(store: Store, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    photos_folder(store.path).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(StoreError, match="is a link"):
        _keep(store, tmp_path, png())
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_name_that_is_not_there_or_of_another_shaft_is_refused(store: Store, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="--shaft: 'S9' is not on record"):
        _keep(store, tmp_path, png(), shaft="S9")
    with pytest.raises(UsageError, match="--fitting: 'F9' is not on record"):
        _keep(store, tmp_path, png(), fitting="F9")
    store.execute("insert into shafts (shaft, pattern, intake) values ('S2', 'D8', 1)")
    with pytest.raises(UsageError, match="--fitting: F1 is of shaft S1, not S2"):
        _keep(store, tmp_path, png(), shaft="S2", fitting="F1")


def test_a_lost_and_a_changed_file_are_found_and_mended_by_keeping_them_again(store: Store, tmp_path: Path) -> None:
    (photo,) = _keep(store, tmp_path, png()).photos
    (file,) = photos_folder(store.path).iterdir()
    file.write_bytes(png(1))
    (finding,) = photo_findings(store)
    assert finding.found.endswith("is not what it was")
    file.unlink()
    (finding,) = photo_findings(store)
    assert (finding.place, finding.found[-10:]) == (f"photo {photo}, shaft S1", "is missing")
    _keep(store, tmp_path, png())
    assert photo_findings(store) == []


def test_a_retracted_photo_is_gone_its_file_stays_and_both_come_back(store: Store, tmp_path: Path) -> None:
    (photo,) = _keep(store, tmp_path, png()).photos
    report = retract(store, "photos", [photo], on=LATE)
    assert store.value("select count(*) from known_photos($on)", {"on": LATE}) == 0
    assert store.value("select count(*) from known_photos($on)", {"on": DAY}) == 1
    assert len(list(photos_folder(store.path).iterdir())) == 1
    undo(store, report.intake, on=LATE)
    assert store.value("select count(*) from known_photos($on)", {"on": LATE}) == 1
    # who keeps a retracted picture again means it
    retract(store, "photos", [photo], on=LATE)
    kept = keep_photos(store, [tmp_path / "marks.jpg"], added_on=LATE, shaft="S1")
    assert [file.accepted for file in kept.report.files] == [1]


def test_a_backup_takes_photos_along_and_a_restore_brings_them_back(store: Store, tmp_path: Path) -> None:
    _keep(store, tmp_path, png())
    kept = photos_folder(store.path)
    (kept / "note.txt").write_text("no photo")
    os.symlink("/etc/hostname", kept / f"{'a' * 64}.png")
    store.close()
    report = backup_store(store.path, tmp_path / "saved.duckdb")
    assert report.photos == 1
    assert [file.suffix for file in photos_folder(tmp_path / "saved.duckdb").iterdir()] == [".png"]
    back = restore_store(tmp_path / "saved.duckdb", tmp_path / "again.duckdb")
    assert back.photos == 1
    with open_store(tmp_path / "again.duckdb") as again:
        assert photo_findings(again) == []
        assert photo_folder.photo_path(again.path, str(again.value("select sha256 from photos"))) is not None


def test_an_anonymous_export_holds_no_photo(store: Store, tmp_path: Path) -> None:
    _keep(store, tmp_path, png())
    plain = export_folder(store, tmp_path / "plain")
    hidden = export_folder(store, tmp_path / "hidden", anonymous_key=b"0123456789abcdef")
    assert plain.rows["photos"] == 1
    assert "photos" not in hidden.rows
    assert not (tmp_path / "hidden" / "photos.csv").exists()


def test_what_is_on_record_otherwise_is_said_and_corrected_on_demand(store: Store, tmp_path: Path) -> None:
    _keep(store, tmp_path, jpeg(), fitting="F1", shows="contact")
    store.execute("insert into shafts (shaft, pattern, intake) values ('S2', 'D8', 1)")
    with pytest.raises(UsageError, match=r"on record with shaft S1; .* say --correct if shaft S2 is right"):
        _keep(store, tmp_path, jpeg(), shaft="S2")
    keep_photos(store, [tmp_path / "marks.jpg"], added_on=DAY, shaft="S2", correct=True)
    assert store.rows("select shaft, fitting, shows from photos") == [("S2", None, "contact")]


def test_a_backup_says_how_many_photos_have_no_file(store: Store, tmp_path: Path) -> None:
    _keep(store, tmp_path, png())
    _keep(store, tmp_path, jpeg())
    next(photos_folder(store.path).glob("*.png")).unlink()
    store.close()
    saved = backup_store(store.path, tmp_path / "saved.duckdb")
    assert (saved.photos, saved.photos_missing) == (1, 1)
    back = restore_store(tmp_path / "saved.duckdb", tmp_path / "again.duckdb")
    assert (back.photos, back.photos_missing) == (1, 1)
