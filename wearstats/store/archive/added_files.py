"""Which files were added to a store, and which of them a backup of it does not hold."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from wearstats.errors import StoreError, counted
from wearstats.store.database.connection import Store, open_known
from wearstats.store.database.failures import first_line


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedFile:
    """A file that was added to a store.

    Parameters
    ----------
    intake : int
        In which intake.
    added_on : datetime.date
        On which day, as it was given.
    file, table : str
        Its name, and the table that its rows are of.
    accepted : int
        How many of them came in.
    clock : datetime.datetime
        The clock at that intake: with its number it tells intakes of stores apart that were one once.
    """

    intake: int
    added_on: datetime.date
    file: str
    table: str
    accepted: int
    clock: datetime.datetime

    def __str__(self) -> str:
        """Give the one-line message."""
        return (
            f"intake {self.intake}, added on {self.added_on}: {self.file}, {self.table}, "
            f"{counted(self.accepted, 'row')}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the file as the ``--json`` document has it."""
        return {name: getattr(self, name) for name in ("intake", "file", "table", "accepted", "added_on")}


def added_files(store: Store) -> list[AddedFile]:
    """Give every file ever added to a store, in order."""
    rows = store.rows(
        "select intake, added_on, file, table_name, accepted, added_at from intakes "
        "join intake_files using (intake) order by intake, file, table_name"
    )
    return [
        AddedFile(intake=intake, added_on=added_on, file=file, table=table, accepted=accepted, clock=clock)
        for intake, added_on, file, table, accepted, clock in rows
    ]


def added_beyond(held: Iterable[AddedFile], path: Path) -> tuple[tuple[AddedFile, ...], str | None]:
    """Name what a file that may be a store, or a damaged one, holds beyond a backup.

    Parameters
    ----------
    held : iterable of AddedFile
        What the backup holds.
    path : pathlib.Path
        The file.

    Returns
    -------
    tuple of AddedFile, str or None
        The files added to it that are not in the backup; and why it cannot be asked, where it cannot.
    """
    try:
        with open_known(path, wait_s=0.5) as store:
            added = added_files(store)
    except (StoreError, duckdb.Error) as refused:
        return (), first_line(refused.__cause__ or refused)
    known = {(file.intake, file.clock) for file in held}
    return tuple(file for file in added if (file.intake, file.clock) not in known), None
