"""Opening the store: one DuckDB file, many readers or one writer, and every way in which that can fail."""

from __future__ import annotations

import datetime
import itertools
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import duckdb

from wearstats.errors import StoreError
from wearstats.store.database.failures import refusals_told
from wearstats.store.database.file import NO_STORE, connect, is_lock
from wearstats.store.database.migrations import is_current, migrate, newest_version, store_version
from wearstats.store.database.replacing import followed, keep_aside, made_as
from wearstats.store.database.statements import Statement, quoted_name, statement

if TYPE_CHECKING:
    import pandas as pd

WAIT_S = 5.0
"""How long to wait for another process to let go of the store."""

_PART_VECTORS = 128
"""How much of a long answer is fetched at once, in the database's vectors of 2048 rows."""

_PARTS = itertools.count(1)


class Store:
    """An open store; use it in a ``with`` statement.

    Parameters
    ----------
    path : pathlib.Path
        Its file.
    connection : duckdb.DuckDBPyConnection
        The open file.
    write : bool
        Whether it may be written to.
    """

    def __init__(self, path: Path, connection: duckdb.DuckDBPyConnection, *, write: bool) -> None:
        self.path = path
        self.write = write
        self._connection = connection
        self._process = os.getpid()
        self.closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; a process forked off has nothing of it to let go of."""
        if os.getpid() == self._process:
            self._connection.close()
            self.closed = True

    @property
    def catalogue(self) -> str:
        """The name by which statements of another store in this process know this one, as SQL has it."""
        return quoted_name(self.value("select current_database()"))

    def in_memory(self) -> Store:
        """Make an empty store in memory, whose statements may name tables of this one; it ends with this one."""
        connection = self._connection.cursor()
        name = quoted_name(f"part {next(_PARTS)}")
        with refusals_told(self.path):
            connection.execute(f"attach ':memory:' as {name} (read_write)")
            connection.execute(f"use {name}")
            migrate(connection)
        return Store(Path(":memory:"), connection, write=True)

    def tables(self) -> list[str]:
        """Name its tables, in the order of the alphabet."""
        sql = "select table_name from duckdb_tables() where database_name = current_database() and not temporary"
        return [name for (name,) in self.rows(f"{sql} order by table_name")]

    def query(self, name: str, **params: Any) -> pd.DataFrame:
        """Run a statement of ``sql/queries``.

        Parameters
        ----------
        name : str
            The file's name without its ending.
        **params
            Exactly the parameters that its header names.

        Returns
        -------
        pandas.DataFrame
            Columns and units as the file says.
        """
        return self.run(statement(name), **params)

    def query_parts(self, name: str, **params: Any) -> Iterator[pd.DataFrame]:
        """Run a statement of ``sql/queries`` whose rows are too many to hold at once.

        Parameters
        ----------
        name, **params
            As for `query`.

        Yields
        ------
        pandas.DataFrame
            Its rows in turn, about a quarter of a million at a time. No other statement may be run meanwhile.
        """
        wanted = statement(name)
        _refuse_other_params(wanted, params)
        running = self._begin(wanted.sql, params)
        while len(part := self._next_part(running)):
            yield part

    def run(self, wanted: Statement, **params: Any) -> pd.DataFrame:
        """Run a catalogued statement; TypeError when the parameters are not those of its header."""
        _refuse_other_params(wanted, params)
        return self.table(wanted.sql, params)

    def execute(self, sql: str, params: Mapping[str, Any] | None = None) -> None:
        """Run one statement of the store's own to its end."""
        with refusals_told(self.path):
            self._begin(sql, params).complete()

    def rows(self, sql: str, params: Mapping[str, Any] | None = None) -> list[tuple[Any, ...]]:
        """Run one statement of the store's own and give its rows."""
        with refusals_told(self.path):
            return self._begin(sql, params).fetchall()

    def value(self, sql: str, params: Mapping[str, Any] | None = None) -> Any:
        """Run one statement of the store's own and give the first cell of its first row; None where there is none."""
        rows = self.rows(sql, params)
        return rows[0][0] if rows else None

    def table(self, sql: str, params: Mapping[str, Any] | None = None) -> pd.DataFrame:
        """Run one statement of the store's own and give its rows as a frame."""
        with refusals_told(self.path):
            return self._begin(sql, params).df()

    def _begin(self, sql: str, params: Mapping[str, Any] | None) -> duckdb.DuckDBPyConnection:
        """Start a statement; what the disk or the memory refuses becomes a StoreError."""
        if os.getpid() != self._process:
            # the threads that would answer stayed in the other process, and this one would wait for ever
            raise StoreError(
                f"{self.path}: was opened by process {self._process}; open it anew in process {os.getpid()}"
            )
        with refusals_told(self.path):
            return self._connection.execute(sql, dict(params) if params else None)

    def _next_part(self, running: duckdb.DuckDBPyConnection) -> pd.DataFrame:
        with refusals_told(self.path):
            return running.fetch_df_chunk(_PART_VECTORS)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing: whatever goes wrong inside leaves the store as it was."""
        self.execute("begin")
        try:
            yield
        except BaseException:
            # a database that has given up has nothing open to take back, and must not hide why
            with suppress(duckdb.Error):
                self._connection.execute("rollback")
            raise
        self.execute("commit")

    @contextmanager
    def frame(self, name: str, frame: pd.DataFrame) -> Iterator[None]:
        """Let statements see a frame under a name."""
        self._connection.register(name, frame)
        try:
            yield
        except BaseException:
            # a transaction that has failed lets nothing be put away, and must not hide why
            with suppress(duckdb.Error):
                self._connection.unregister(name)
            raise
        self._connection.unregister(name)

    def allow_files(self) -> None:
        """Let statements read files again, until `forbid_files`."""
        # the setting cannot be taken back on a running database, so the file is opened anew
        if not self.value("select current_setting('enable_external_access')"):
            self._connection.close()
            self._connection = connect(self.path, write=self.write, wait_s=WAIT_S, on_wait=None)

    def forbid_files(self) -> None:
        """Keep all further statements from any file but the store, from the network, and from changing a setting."""
        if not self.value("select current_setting('lock_configuration')"):
            self.execute("set enable_external_access = false")
            self.execute("set lock_configuration = true")


def create_store(path: Path | str, *, force: bool = False) -> Path | None:
    """Make an empty store.

    Parameters
    ----------
    path : pathlib.Path or str
        Where; its folder must exist.
    force : bool
        Whether it may take the place of a store that is already there, which is kept under a dated name.

    Returns
    -------
    pathlib.Path or None
        Where the store is now that was there before; None where there was none.

    Raises
    ------
    StoreError
        When something is there already, or the folder is not.
    """
    path = followed(Path(path))
    if path.is_dir():
        raise StoreError(f"{path}: is a directory; name a file, such as {path / 'wearstats.duckdb'}")
    if path.exists() and not force:
        raise StoreError(f"{path}: is there already; add to it, choose another name, or say --force to overwrite it")
    if not path.absolute().parent.is_dir():
        raise StoreError(f"{path}: there is no folder {path.absolute().parent}; make it first")
    if path.exists():
        # another process may hold the old one: find out before it goes
        _connect_if_store(path)
    # built beside its place and moved there whole: nobody ever sees half a store
    building = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with (
            refusals_told(path),
            made_as(building, path),
            Store(building, connect(building, write=True, wait_s=0.0, on_wait=None), write=True) as fresh,
        ):
            migrate(fresh._connection)
        with refusals_told(path):
            kept = keep_aside(path) if path.exists() else None
            # the old log goes first: the new store must never be read with it
            path.with_name(f"{path.name}.wal").unlink(missing_ok=True)
            os.replace(building, path)
    finally:
        for left in (building, building.with_name(f"{building.name}.wal")):
            with suppress(OSError):
                left.unlink(missing_ok=True)
    return kept


def open_store(
    path: Path | str,
    *,
    write: bool = False,
    wait_s: float = WAIT_S,
    on_wait: Callable[[str], None] | None = None,
) -> Store:
    """Open a store.

    Parameters
    ----------
    path : pathlib.Path or str
        Its file.
    write : bool
        Whether it will be written to; an older store is then saved beside itself and brought to the newest version.
        Any number of processes may read at once, but only while none writes.
    wait_s : float
        How long to wait, in seconds, for another process to let go of it.
    on_wait : callable, optional
        Told, in words, when there is something to wait for, and when the last program that wrote did not end well.

    Raises
    ------
    StoreError
        Missing, a directory, not a store, held by another process, of a newer version, or, for reading, of an older.
    """
    store = open_known(path, write=write, wait_s=wait_s, on_wait=on_wait)
    try:
        bring_up_to_date(store)
        store.forbid_files()
    except BaseException:
        store.close()
        raise
    return store


def open_known(
    path: Path | str,
    *,
    write: bool = False,
    wait_s: float = WAIT_S,
    on_wait: Callable[[str], None] | None = None,
) -> Store:
    """Open a store of any version that this program knows, as it is; parameters and errors as in `open_store`.

    Statements may read and write files, so that it can be copied; its queries may want tables that it does not have.
    """
    path = followed(Path(path))
    if path.is_dir():
        raise StoreError(f"{path}: is a directory, not a store; name the file in it")
    if not path.exists():
        raise StoreError(f"{path}: there is no store here; {NO_STORE}, or say where it is with --store")
    log = path.with_name(f"{path.name}.wal")
    store = Store(path, connect(path, write=write, wait_s=wait_s, on_wait=on_wait), write=write)
    # asked only now: a writer that was waited for had a log too, and took it away
    cut_short = on_wait is not None and log.exists() and log.stat().st_size > 0
    try:
        with refusals_told(path):
            version, newest = store_version(store._connection), newest_version()
        if version is None:
            raise StoreError(f"{path}: is a DuckDB file but not a wearstats store; {NO_STORE}")
        if version > newest:
            raise StoreError(
                f"{path}: is of version {version}; this program knows versions up to {newest}; "
                "install a newer wearstats"
            )
        if cut_short and on_wait is not None:
            on_wait(_cut_short(store))
    except BaseException:
        store.close()
        raise
    return store


def _cut_short(store: Store) -> str:
    """Say what there is after a program was stopped in the middle of writing."""
    last = store.rows("select intake, added_on::varchar from intakes order by intake desc limit 1")
    ends = f"its last intake is {last[0][0]}, added on {last[0][1]}" if last else "it has no intake"
    return (
        f"{store.path}: the last program that wrote here was stopped before it had finished; what it added is there "
        f"whole or not at all: {ends}; add again what is missing, nothing counts twice"
    )


def bring_up_to_date(store: Store, *, keep_copy: bool = True) -> None:
    """Make the changes that an older store has not seen; raises StoreError where it may not be written to.

    Parameters
    ----------
    store : Store
        As `open_known` gives it.
    keep_copy : bool
        Whether to save the older store beside itself first.
    """
    with refusals_told(store.path):
        if is_current(store._connection):
            return
        version, newest = store_version(store._connection) or 0, newest_version()
    if not store.write:
        raise StoreError(
            f"{store.path}: was last written by an older program (version {version} of {newest}); bring it up to date, "
            "which keeps a copy: wearstats store info --update"
        )
    with refusals_told(store.path):
        if keep_copy and version < newest:
            _keep_copy(store, version)
        migrate(store._connection)


def _keep_copy(store: Store, version: int) -> None:
    """Save a store beside itself before it is changed; never half of it under its name."""
    store.execute("checkpoint")
    stamp = datetime.datetime.now().strftime("%Y%m%dT%H%M%S")
    kept = store.path.with_name(f"{store.path.stem}-version-{version}-{stamp}.duckdb")
    building = kept.with_name(f".{kept.name}.{os.getpid()}.new")
    try:
        shutil.copy2(store.path, building)
        os.replace(building, kept)
    finally:
        with suppress(OSError):
            building.unlink(missing_ok=True)


def refuse_if_held(path: Path, *, wait_s: float = 0.5) -> None:
    """Raise StoreError where another process has a file open, store or not, that is about to be overwritten."""
    try:
        connect(path, write=True, wait_s=wait_s, on_wait=None).close()
    except StoreError as refused:
        if is_lock(str(refused.__cause__)):
            raise


def _connect_if_store(path: Path) -> None:
    """Make sure that a file about to be overwritten is a store that nobody holds."""
    with open_known(path, write=True, wait_s=0.5):
        pass


def _refuse_other_params(wanted: Statement, params: Mapping[str, Any]) -> None:
    if set(params) != set(wanted.params):
        raise TypeError(f"{wanted.name} takes {wanted.params}, not {tuple(params)}")
