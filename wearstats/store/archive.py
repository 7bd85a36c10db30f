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
from wearstats.store.connection import Store, bring_up_to_date, open_known, refuse_if_held
from wearstats.store.sql_catalogue import quoted_name


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
    """

    source: Path
    to: Path
    tables: int
    rows: int

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {"from": str(self.source), "to": str(self.to), "tables": self.tables, "rows": self.rows}


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
        Whether a file that is there already may be overwritten.
    on_wait : callable, optional
        Told once, in words, when another process has the store and is waited for.

    Returns
    -------
    CopyReport

    Raises
    ------
    StoreError
        No store, held for writing by another process, something is there already, or the copy does not hold as much.
    """
    path, to = Path(path), Path(to)
    with open_known(path, on_wait=on_wait) as store, _in_place_of(to, path, force=force) as building:
        counts = _copy(store, building)
    return CopyReport(source=path, to=to, tables=len(counts), rows=sum(counts.values()))


def restore_store(backup: Path | str, path: Path | str, *, force: bool = False) -> CopyReport:
    """Bring a store back from a file that it was saved in.

    Parameters
    ----------
    backup : pathlib.Path or str
        The file that it was saved in; it is only read. One of an older version is brought up to date on the way.
    path : pathlib.Path or str
        Where the store is to be.
    force : bool
        Whether a file that is there already may be overwritten, whatever it is: a damaged store is a reason to restore.

    Returns
    -------
    CopyReport

    Raises
    ------
    StoreError
        The backup is no store or of a newer version, something is there already or held by another process.
    """
    backup, path = Path(backup), Path(path)
    if not backup.exists():
        raise StoreError(f"{backup}: there is no such file; name the file that a backup was saved in")
    with open_known(backup) as saved, _in_place_of(path, backup, force=force) as building:
        counts = _copy(saved, building)
        with open_known(building, write=True) as fresh:
            # the backup itself is the copy that is kept
            bring_up_to_date(fresh, keep_copy=False)
    return CopyReport(source=backup, to=path, tables=len(counts), rows=sum(counts.values()))


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


def _copy(store: Store, building: Path) -> dict[str, int]:
    """Copy every table, view and macro into a new file; gives the rows of each table, equal in both."""
    source = store.catalogue
    place = str(building).replace("'", "''")
    try:
        store.execute(f"attach '{place}' as copied (read_write)")
        store.execute(f"copy from database {source} to copied")
    except duckdb.Error as refused:
        raise StoreError(f"{store.path}: cannot be copied ({str(refused).splitlines()[0]})") from refused
    counts, copied = _counts(store, source), _counts(store, "copied")
    store.execute("detach copied")
    if counts != copied:
        differing = sorted(name for name in counts.keys() | copied.keys() if counts.get(name) != copied.get(name))
        raise StoreError(f"{store.path}: the copy does not hold as many rows: {', '.join(differing)}; try again")
    return counts


def _counts(store: Store, database: str) -> dict[str, int]:
    """Count the rows of every table of an attached database."""
    tables = store.rows(
        "select table_name from duckdb_tables() where database_name = $name and not temporary order by table_name",
        {"name": database.strip('"').replace('""', '"')},
    )
    return {name: int(store.value(f"select count(*) from {database}.main.{quoted_name(name)}")) for (name,) in tables}
