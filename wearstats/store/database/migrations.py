"""The store's version: which changes of the schema it has seen, and the views and macros that go with them.

A change is a file ``sql/schema/NNNN_name.sql``; files are only ever added. Each runs in one transaction with its
record, so that a store is never between two versions. Views and macros hold no data: all of them are made anew whenever
a change was made or their own text is no longer what the store was given.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from functools import lru_cache
from graphlib import TopologicalSorter
from pathlib import Path

import duckdb

from wearstats.resources import resource

_RECORDS = """
create table if not exists migrations (
    number integer primary key,
    name varchar not null,
    applied_at timestamp not null,
    views_sha256 varchar -- of the views and macros as last made, on the newest record
)
"""


_MADE = re.compile(r"^create or replace (?:macro|view) (\w+)", re.MULTILINE)
"""The view or macro that a file makes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One change of the schema.

    Parameters
    ----------
    number : int
        Its place in the order, from 1.
    name : str
        What it brings.
    sql : str
        Its statements.
    """

    number: int
    name: str
    sql: str


@lru_cache
def known_migrations() -> tuple[Migration, ...]:
    """Read all changes that come with the program, in order."""
    return read_migrations(resource("sql/schema"))


def read_migrations(folder: Path) -> tuple[Migration, ...]:
    """Read the changes in a folder, in order; ValueError when their numbers leave a gap."""
    found = []
    for path in sorted(folder.glob("*.sql")):
        number, _, name = path.stem.partition("_")
        found.append(Migration(number=int(number), name=name, sql=path.read_text(encoding="utf-8")))
    if [migration.number for migration in found] != list(range(1, len(found) + 1)):
        raise ValueError(f"{folder}: the numbers of the changes leave a gap or stand twice")
    return tuple(found)


@lru_cache
def known_views() -> tuple[str, ...]:
    """Read the statements that make the views and macros, each after those that it names."""
    found = [path.read_text(encoding="utf-8") for path in sorted(resource("sql/views").rglob("*.sql"))]
    texts = {_MADE.findall(text)[0]: text for text in found}
    needs = {
        name: [other for other in texts if other != name and re.search(rf"\b{other}\b", text)]
        for name, text in texts.items()
    }
    return tuple(texts[name] for name in TopologicalSorter(needs).static_order())


def views_fingerprint() -> str:
    """Give a hash of the views and macros that come with the program."""
    return hashlib.sha256("\n".join(known_views()).encode()).hexdigest()


def newest_version() -> int:
    """Give the number of the program's newest change."""
    return len(known_migrations())


def store_version(connection: duckdb.DuckDBPyConnection) -> int | None:
    """Give the number of the store's newest change; None where the file is no store."""
    found = connection.execute(
        "select count(*) from duckdb_tables() where table_name = 'migrations' and database_name = current_database()"
    ).fetchall()
    if found[0][0] == 0:
        return None
    return int(connection.execute("select coalesce(max(number), 0) from migrations").fetchall()[0][0])


def is_current(connection: duckdb.DuckDBPyConnection) -> bool:
    """Say whether a store has seen every change and carries the program's own views."""
    newest = connection.execute("select views_sha256 from migrations order by number desc limit 1").fetchall()
    return store_version(connection) == newest_version() and newest == [(views_fingerprint(),)]


def migrate(
    connection: duckdb.DuckDBPyConnection, *, migrations: tuple[Migration, ...] | None = None
) -> tuple[Migration, ...]:
    """Bring a store to the newest version.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        Open for writing; an empty file becomes a store.
    migrations : tuple of Migration, optional
        The changes; without it, those that come with the program.

    Returns
    -------
    tuple of Migration
        The changes made now.
    """
    wanted = known_migrations() if migrations is None else migrations
    made = []
    connection.execute(_RECORDS)
    for migration in wanted[store_version(connection) or 0 :]:
        connection.execute("begin")
        try:
            for part in connection.extract_statements(migration.sql):
                connection.execute(part)
            connection.execute(
                "insert into migrations values ($number, $name, now()::timestamp, null)",
                {"number": migration.number, "name": migration.name},
            )
        except duckdb.Error:
            connection.execute("rollback")
            raise
        connection.execute("commit")
        made.append(migration)
    _make_views(connection)
    return tuple(made)


def _make_views(connection: duckdb.DuckDBPyConnection) -> None:
    """Make all views and macros anew, in one transaction with the record of their text."""
    connection.execute("begin")
    try:
        for text in known_views():
            connection.execute(text)
        connection.execute(
            "update migrations set views_sha256 = $text where number = (select max(number) from migrations)",
            {"text": views_fingerprint()},
        )
    except duckdb.Error:
        connection.execute("rollback")
        raise
    connection.execute("commit")
