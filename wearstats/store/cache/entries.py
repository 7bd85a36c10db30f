"""The folder beside the store: one file an entry, each of them absent unless it is whole.

It holds nothing that the store does not give again: any of it may be deleted at any time, and what cannot be read, or
not be written, is passed over. Entries are found under digests, so that no file's name tells anything; what is in them
names shafts as answers do, and has the store's own mode. Backups and exports are made of the store alone.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

MOST_BYTES: Final = 256_000_000
"""What a folder may hold; past that, what was not asked for longest goes."""

MOST_OF_ONE: Final = MOST_BYTES // 4
"""No entry is larger."""


def cache_folder(store: Path) -> Path:
    """Give the folder that lies beside a store."""
    return store.with_name(f"{store.name}.cache")


def clear_cache(store: Path) -> None:
    """Let all that is kept beside a store go; of a link, the link."""
    folder = cache_folder(store)
    with suppress(OSError):
        if folder.is_symlink():
            folder.unlink()
        else:
            shutil.rmtree(folder, ignore_errors=True)


class Entries:
    """What is kept beside one store.

    Parameters
    ----------
    store : pathlib.Path
        Its file.
    """

    def __init__(self, store: Path) -> None:
        self._store = store
        self._folder = cache_folder(store)

    def has(self, name: str) -> bool:
        """Whether there is such an entry, whole or not."""
        return self._is_ours() and (self._folder / name).is_file()

    def read(self, name: str) -> bytes | None:
        """Give what an entry holds; None where there is none, or it is a link or cannot be read."""
        if not self._is_ours():
            return None
        try:
            number = os.open(self._folder / name, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
            with os.fdopen(number, "rb") as file:
                if not stat.S_ISREG(os.fstat(number).st_mode):
                    return None
                # asked for now, so that it is not the next to go
                with suppress(OSError):
                    os.utime(file.fileno())
                return file.read(MOST_OF_ONE + 1)
        except (OSError, MemoryError):
            return None

    def write(self, name: str, content: bytes) -> None:
        """Keep an entry; where it is too large, or the folder is not to be written to, nothing happens."""
        if len(content) > MOST_OF_ONE:
            return
        with suppress(OSError):
            mode = stat.S_IMODE(self._store.stat().st_mode) & 0o666
            if not self._folder.exists():
                self._folder.mkdir()
                # whoever may read the store may look into the folder
                self._folder.chmod(mode | (mode & 0o444) >> 2 | 0o700)
            if not self._is_ours():
                return
            number, making = tempfile.mkstemp(prefix="making-", dir=self._folder)
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(content)
                Path(making).chmod(mode)
                # readers see the old entry or the new one, never a part
                Path(making).replace(self._folder / name)
            finally:
                Path(making).unlink(missing_ok=True)
            self._make_room()

    def read_document(self, name: str) -> dict[str, Any] | None:
        """Give a document that was kept; None where there is none, or it is not as it was written."""
        content = self.read(name)
        if content is None:
            return None
        try:
            found = json.loads(content)
            document = found["document"]
            whole = found["sha256"] == _digest(document)
        except (ValueError, RecursionError, KeyError, TypeError):
            return None
        return document if whole and isinstance(document, dict) else None

    def write_document(self, name: str, document: Mapping[str, Any]) -> None:
        """Keep a document: whatever goes into JSON and comes out of it unchanged."""
        told = {"document": document, "sha256": _digest(document)}
        self.write(name, json.dumps(told).encode())

    def _is_ours(self) -> bool:
        """Whether the folder is one, and no link to another place."""
        try:
            return stat.S_ISDIR(self._folder.lstat().st_mode)
        except OSError:
            return False

    def _make_room(self) -> None:
        """Let go what was not asked for longest, until the rest is no more than may be."""
        files = []
        for entry in os.scandir(self._folder):
            with suppress(OSError):
                told = entry.stat(follow_symlinks=False)
                files.append((told.st_mtime, told.st_size, entry.path))
        size = sum(each for _, each, _ in files)
        for _, each, path in sorted(files):
            if size <= MOST_BYTES:
                return
            with suppress(OSError):
                os.unlink(path)
            size -= each


def _digest(document: Any) -> str:
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()
