"""The folder beside the store in which photos lie, each under the digest of its content."""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final

from wearstats.errors import StoreError
from wearstats.store.checks import Finding
from wearstats.store.database.connection import Store
from wearstats.store.photos.pictures import kind_of

PHOTO_FILES: Final = "photo_files"
"""The check that every photo's file is there and is what it was."""

MOST_BYTES: Final = 10_000_000
"""A telephone's picture has two to eight million bytes; larger ones say nothing more of a contact mark (judgement)."""

_NAME: Final = re.compile(r"[0-9a-f]{64}\.(?:jpg|png|webp)")


def photos_folder(store: Path) -> Path:
    """Give the folder of a store's photos."""
    return store.with_name(f"{store.name}.photos")


def read_plain(path: Path, *, most: int = MOST_BYTES) -> bytes:
    """Read a plain file, no link, of at most so many bytes and one more.

    Raises
    ------
    OSError
        When it is a link, no plain file, or cannot be read.
    """
    number = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(number, "rb") as file:
        if not stat.S_ISREG(os.fstat(number).st_mode):
            raise OSError(0, "is no plain file")
        return file.read(most + 1)


def keep_file(store: Path, content: bytes) -> Path:
    """Write a photo under its digest, with the store's mode; one that is there and sound stays.

    Raises
    ------
    StoreError
        When the folder is a link, or cannot be written to.
    """
    folder = photos_folder(store)
    path = folder / f"{hashlib.sha256(content).hexdigest()}.{kind_of(content)}"
    mode = store.stat().st_mode & 0o777
    building = folder / f".{path.name}.{os.getpid()}.new"
    try:
        # whoever may read the store may look into the folder
        folder.mkdir(mode=mode | (mode & 0o444) >> 2, exist_ok=True)
        if folder.is_symlink():
            raise StoreError(f"{folder}: is a link; photos are kept in a folder beside the store alone; take it away")
        if _is_sound(path):
            return path
        with os.fdopen(os.open(building, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
        building.chmod(mode)
        os.replace(building, path)
    except OSError as refused:
        raise StoreError(f"{folder}: cannot be written to ({refused.strerror}); nothing was kept") from refused
    finally:
        with suppress(OSError):
            building.unlink(missing_ok=True)
    return path


def copy_photos(source: Path, to: Path) -> int:
    """Copy all photos beside one store beside another; what is there and sound stays.

    Returns
    -------
    int
        How many there are; damaged ones and links are not copied.
    """
    return len([keep_file(to, read_plain(path)) for path in _files(photos_folder(source))])


def photo_path(store: Path, sha256: str) -> Path | None:
    """Find a photo's file; None where it is not there or not what it was."""
    folder = photos_folder(store)
    if folder.is_symlink():
        return None
    return next((path for kind in ("jpg", "png", "webp") if _is_sound(path := folder / f"{sha256}.{kind}")), None)


def missing_photos(store: Path, digests: Iterable[str]) -> int:
    """Count those of some photos, named by their SHA-256, whose file beside a store is missing or not what it was."""
    return sum(photo_path(store, digest) is None for digest in digests)


def photo_findings(store: Store) -> list[Finding]:
    """Find the photos on record whose file is missing or is not what it was."""
    folder = photos_folder(store.path)
    found = []
    for photo, shaft, sha256 in store.rows("select photo, shaft, sha256 from photos order by photo"):
        if photo_path(store.path, str(sha256)) is None:
            there = any(os.path.lexists(folder / f"{sha256}.{kind}") for kind in ("jpg", "png", "webp"))
            found.append(
                Finding(
                    check=PHOTO_FILES,
                    place=f"photo {photo}, shaft {shaft}",
                    found=f"its file in {folder.name} {'is not what it was' if there else 'is missing'}",
                    next_step="add the picture again with: wearstats store photo; or bring it back from a backup",
                )
            )
    return found


def _files(folder: Path) -> Iterator[Path]:
    """Give the files of a folder that are photos and are what they were."""
    if folder.is_dir() and not folder.is_symlink():
        yield from (path for path in sorted(folder.iterdir()) if _NAME.fullmatch(path.name) and _is_sound(path))


def _is_sound(path: Path) -> bool:
    try:
        return hashlib.sha256(read_plain(path)).hexdigest() == path.stem
    except OSError:
        return False
