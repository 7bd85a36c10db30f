"""What disk, memory or a damaged file refuse, in our words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from wearstats.errors import StoreError
from wearstats.store.database.room import spill_folder

_REFUSED = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException, duckdb.OutOfMemoryException)
_DAMAGE = ("corrupt", "checksum", "serializ", "metadata pointer", "invalidated", "could not read")
_NO_ROOM = ("no space", "could not write", "failed to write", "file too large", "disk quota", "no more space")
_SPILT = ("max_temp_directory_size", "offload data")
_FORBIDDEN = ("read-only file system", "permission denied")

_AS_BEFORE = "the store holds what it held before"


@contextmanager
def refusals_told(path: Path) -> Iterator[None]:
    """Turn what the database says of a bad disk or a damaged file into a `StoreError`.

    Parameters
    ----------
    path : pathlib.Path
        The store that statements inside run on.

    Raises
    ------
    StoreError
        The file is damaged, the disk full, the folder not to be written to, or the memory too small.
    """
    try:
        yield
    except duckdb.Error as refused:
        if is_damage(refused):
            raise damaged(path, refused) from refused
        if is_no_memory(refused):
            raise StoreError(
                f"{path}: there is not enough memory ({first_line(refused)}); close other programs, or ask where more "
                f"may be used; {_AS_BEFORE}"
            ) from refused
        if any(word in str(refused).lower() for word in _SPILT):
            raise StoreError(
                f"{path}: there is no room in {spill_folder(path)[0].parent} for what does not fit into memory "
                f"({first_line(refused)}); make room there, or name a folder on a disk that has more: TMPDIR=FOLDER; "
                f"{_AS_BEFORE}"
            ) from refused
        if is_no_room(refused):
            raise StoreError(f"{path}: there is no room ({reason(refused)}); make room; {_AS_BEFORE}") from refused
        if is_forbidden(refused):
            raise StoreError(
                f"{path}: may not be written ({reason(refused)}); have its disk and folder made writable, or copy it "
                f"to where it may be written; {_AS_BEFORE}"
            ) from refused
        if isinstance(refused, _REFUSED):
            raise StoreError(f"{path}: {first_line(refused)}; {_AS_BEFORE}") from refused
        raise
    except OSError as refused:
        raise StoreError(f"{path}: {refused.strerror or refused}; {_AS_BEFORE}") from refused


def damaged(path: Path, refused: duckdb.Error) -> StoreError:
    """Say that a store is damaged, and the two ways out of it: a copy that can still be made holds everything."""
    return StoreError(
        f"{path}: is damaged ({first_line(refused)}); nothing was changed; try to save it: wearstats store backup FILE "
        f"--store {path}; where that is refused too, {way_back(path)}"
    )


def way_back(path: Path) -> str:
    """Say how a store that cannot be saved any more is brought back."""
    return f"bring it back from the last backup: wearstats store restore BACKUP --store {path} --force"


def is_damage(refused: duckdb.Error) -> bool:
    """Say whether the database found bytes that are not those it wrote; its class for that is the base of all."""
    low = str(refused).lower()
    kind = type(refused) in (duckdb.Error, *_REFUSED[:3], duckdb.SerializationException)
    return kind and any(word in low for word in _DAMAGE) and not is_no_room(refused)


def is_no_memory(refused: duckdb.Error) -> bool:
    """Say whether the database found too little memory, and not that what goes to the disk instead has no room."""
    low = str(refused).lower()
    return isinstance(refused, duckdb.OutOfMemoryException) and not any(word in low for word in (*_NO_ROOM, *_SPILT))


def is_no_room(refused: duckdb.Error) -> bool:
    """Say whether the database found too little room, on the disk or in memory."""
    low = str(refused).lower()
    told = isinstance(refused, (*_REFUSED, duckdb.TransactionException)) and any(word in low for word in _NO_ROOM)
    return told or isinstance(refused, duckdb.OutOfMemoryException)


def is_forbidden(refused: duckdb.Error) -> bool:
    """Say whether the database may not write where it should."""
    return isinstance(refused, (*_REFUSED, duckdb.TransactionException)) and any(
        word in str(refused).lower() for word in _FORBIDDEN
    )


def first_line(error: object) -> str:
    """Give the first line of an error."""
    return (str(error).strip().splitlines() or ["no reason given"])[0]


def reason(error: object) -> str:
    """Give the part of an error's text that says why it could not be written, to the end of its line."""
    text = str(error)
    places = [place for place in map(text.lower().find, (*_NO_ROOM, *_FORBIDDEN)) if place >= 0]
    return first_line(text[min(places) :] if places else text)
