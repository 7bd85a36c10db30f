"""Saving a store in another file and bringing it back: whole copies, counted before they count."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from wearstats.errors import StoreError
from wearstats.store.archive.added_files import AddedFile, added_beyond, added_files
from wearstats.store.archive.verify import refuse_changed_readings
from wearstats.store.database.connection import Store, bring_up_to_date, open_known, refuse_if_held
from wearstats.store.database.failures import first_line, is_forbidden, is_no_room, reason
from wearstats.store.database.replacing import followed, keep_aside, made_as
from wearstats.store.database.statements import quoted_name
from wearstats.store.photos.folder import copy_photos, missing_photos


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyReport:
    """What was copied.

    Parameters
    ----------
    source, to : pathlib.Path
        From where to where.
    tables : int
        How many tables.
    rows : int
        How many rows in all of them together.
    kept : pathlib.Path or None
        Where the file is now that was there before; None where there was none.
    photos : int
        How many photos lie beside it.
    photos_missing : int
        How many are on record besides, whose file is missing or damaged.
    """

    source: Path
    to: Path
    tables: int
    rows: int
    kept: Path | None = None
    photos: int = 0
    photos_missing: int = 0

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        names = ("tables", "rows", "kept", *(name for name in ("photos", "photos_missing") if getattr(self, name)))
        return {"from": self.source, "to": self.to} | {name: getattr(self, name) for name in names}


@dataclass(frozen=True, slots=True, kw_only=True)
class RestoreReport(CopyReport):
    """What was brought back, and what was lost by it.

    Parameters
    ----------
    ends : tuple of AddedFile
        The files of the backup's last intake; empty where nothing was ever added to it.
    missing : tuple of AddedFile
        What the store that was there before held and the backup does not.
    unread : str or None
        Why the file that was there before could not be asked what it held; None where it could, or there was none.
    """

    ends: tuple[AddedFile, ...] = ()
    missing: tuple[AddedFile, ...] = ()
    unread: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return CopyReport.to_dict(self) | {
            "ends": self.ends,
            "missing": self.missing,
            "unread": self.unread,
        }


def backup_store(
    path: Path | str, to: Path | str, *, force: bool = False, on_wait: Callable[[str], None] | None = None
) -> CopyReport:
    """Save a whole store in another file.

    Parameters
    ----------
    path : pathlib.Path or str
        The store; of any version that this program knows.
    to : pathlib.Path or str
        Where to save it; its folder must exist.
    force : bool
        Whether it may take the place of a file that is there already, which is kept under a dated name.
    on_wait : callable, optional
        Told once, in words, when another process has the store and is waited for.

    Raises
    ------
    StoreError
        No store, held for writing by another process, something is there already, its readings are not those that
        were written, or the copy does not hold as much.
    """
    path, to = followed(Path(path)), followed(Path(to))
    kept = None
    with open_known(path, on_wait=on_wait) as store, _in_place_of(to, path, force=force) as building:
        refuse_changed_readings(store)
        with made_as(building, path):
            counts = _copy(store, building, to=to)
        digests = _photos(store) if "photos" in counts else []  # a store of an older version has none
        if to.exists():
            kept = keep_aside(to)
    return CopyReport(
        source=path,
        to=to,
        tables=len(counts),
        rows=sum(counts.values()),
        kept=kept,
        photos=copy_photos(path, to),
        photos_missing=missing_photos(to, digests),
    )


def restore_store(backup: Path | str, path: Path | str, *, force: bool = False) -> RestoreReport:
    """Bring a store back from a file that it was saved in.

    Parameters
    ----------
    backup : pathlib.Path or str
        The file that it was saved in; it is only read. One of an older version is brought up to date on the way.
    path : pathlib.Path or str
        Where the store is to be.
    force : bool
        Whether it may take the place of a file that is there already, whatever that is: a damaged store is a reason to
        restore. That file is kept under a dated name.

    Raises
    ------
    StoreError
        The backup is no store or of a newer version, something is there already or held by another process.
    """
    backup, path = followed(Path(backup)), followed(Path(path))
    if not backup.exists():
        raise StoreError(f"{backup}: there is no such file; name the file that a backup was saved in")
    missing: tuple[AddedFile, ...] = ()
    unread, kept = None, None
    with open_known(backup) as saved, _in_place_of(path, backup, force=force) as building:
        held = added_files(saved)
        with made_as(building, path if path.exists() else backup):
            counts = _copy(saved, building, to=path)
            with open_known(building, write=True) as fresh:
                # the backup itself is the copy that is kept
                bring_up_to_date(fresh, keep_copy=False)
                digests = _photos(fresh)
        if path.exists():
            missing, unread = added_beyond(held, path)
            kept = keep_aside(path)
    last = max((file.intake for file in held), default=None)
    return RestoreReport(
        source=backup,
        to=path,
        tables=len(counts),
        rows=sum(counts.values()),
        ends=tuple(file for file in held if file.intake == last),
        missing=missing,
        unread=unread,
        kept=kept,
        photos=copy_photos(backup, path),
        photos_missing=missing_photos(path, digests),
    )


def _photos(store: Store) -> list[str]:
    """Give the digests of the photos on record."""
    return [str(digest) for (digest,) in store.rows("select distinct sha256 from photos order by sha256")]


@contextmanager
def _in_place_of(to: Path, source: Path, *, force: bool) -> Iterator[Path]:
    """Give a name beside a file, whose content takes the file's place once all went well."""
    if to.is_dir():
        raise StoreError(f"{to}: is a directory; name a file, such as {to / source.name}")
    if not to.absolute().parent.is_dir():
        raise StoreError(f"{to}: there is no folder {to.absolute().parent}; make it first")
    if to.exists():
        if to.samefile(source):
            raise StoreError(f"{to}: is the very file that is to be copied; choose another name")
        if not force:
            raise StoreError(f"{to}: is there already; choose another name, or say --force to overwrite it")
        refuse_if_held(to)
    building = to.with_name(f".{to.name}.{os.getpid()}.new")
    try:
        yield building
        # the old log goes first: the copy must never be read with it
        to.with_name(f"{to.name}.wal").unlink(missing_ok=True)
        os.replace(building, to)
    except OSError as refused:
        raise StoreError(f"{to}: cannot be written ({refused.strerror}); choose another place") from refused
    finally:
        for left in (building, building.with_name(f"{building.name}.wal")):
            with suppress(OSError):
                left.unlink(missing_ok=True)


def _copy(store: Store, building: Path, *, to: Path) -> dict[str, int]:
    """Copy every table, view and macro into a new file; gives the rows of each table, equal in both."""
    source = store.catalogue
    place = str(building).replace("'", "''")
    with _copying(store.path, to):
        store.execute(f"attach '{place}' as copied (read_write)")
        store.execute(f"copy from database {source} to copied")
        counts, copied = _counts(store, source), _counts(store, "copied")
        store.execute("detach copied")
    if counts != copied:
        differing = sorted(name for name in counts.keys() | copied.keys() if counts.get(name) != copied.get(name))
        raise StoreError(f"{store.path}: the copy does not hold as many rows: {', '.join(differing)}; try again")
    return counts


@contextmanager
def _copying(path: Path, to: Path) -> Iterator[None]:
    """Tell the damage of what is copied from the want of room for the copy."""
    try:
        yield
    except (duckdb.Error, StoreError) as refused:
        cause = refused.__cause__ if isinstance(refused, StoreError) else refused
        if isinstance(cause, duckdb.Error) and is_no_room(cause):
            raise StoreError(f"{to}: there is no room ({reason(cause)}); make room or choose another place") from cause
        if isinstance(cause, duckdb.Error) and is_forbidden(cause):
            raise StoreError(f"{to}: may not be written ({reason(cause)}); choose another place") from cause
        if isinstance(refused, duckdb.Error):
            raise StoreError(f"{path}: cannot be copied ({first_line(refused)})") from refused
        raise


def _counts(store: Store, database: str) -> dict[str, int]:
    """Count the rows of every table of an attached database."""
    tables = store.rows(
        "select table_name from duckdb_tables() where database_name = $name and not temporary order by table_name",
        {"name": database.strip('"').replace('""', '"')},
    )
    return {name: int(store.value(f"select count(*) from {database}.main.{quoted_name(name)}")) for (name,) in tables}
