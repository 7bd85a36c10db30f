"""What disk, memory or a damaged file refuse, in our words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from wearstats.errors import StoreError

_REFUSED = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException, duckdb.OutOfMemoryException)
_DAMAGE = ("corrupt", "checksum", "serializ", "metadata pointer", "invalidated")


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
            raise StoreError(
                f"{path}: is damaged ({first_line(refused)}); nothing was changed; bring it back from the last backup "
                f"with: wearstats store restore BACKUP --store {path} --force"
            ) from refused
        if isinstance(refused, _REFUSED):
            raise StoreError(f"{path}: {first_line(refused)}; the store is as it was before this command") from refused
        raise
    except OSError as refused:
        raise StoreError(
            f"{path}: {refused.strerror or refused}; the store is as it was before this command"
        ) from refused


def is_damage(refused: duckdb.Error) -> bool:
    """Say whether the database found bytes that are not those it wrote; its class for that is the base of all."""
    low = str(refused).lower()
    return type(refused) in (duckdb.Error, *_REFUSED[:3], duckdb.SerializationException) and any(
        word in low for word in _DAMAGE
    )


def first_line(error: object) -> str:
    """Give the first line of an error."""
    return (str(error).strip().splitlines() or ["no reason given"])[0]
