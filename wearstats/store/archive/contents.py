"""What a store holds: rows by table, intakes, rows still to be mended."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.domain.tables import TABLES
from wearstats.store.database.connection import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeLine:
    """One intake: its day, whether a first bulk load, how far outcomes are complete, and what became of its rows."""

    intake: int
    added_on: datetime.date
    bulk: bool
    complete_to: datetime.date | None
    read: int
    accepted: int
    duplicate: int
    conflict: int
    rejected: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a store holds.

    Parameters
    ----------
    path : pathlib.Path
        Its file.
    version : int
        Its version.
    bytes : int
        Size of the file.
    tables : dict
        Table to its number of rows.
    intakes : tuple of IntakeLine
        In order.
    rejects_open : int
        Rows kept out that are still to be mended.
    """

    path: Path
    version: int
    bytes: int
    tables: dict[str, int]
    intakes: tuple[IntakeLine, ...]
    rejects_open: int

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "store": self.path,
            "store_version": self.version,
            "bytes": self.bytes,
            "tables": self.tables,
            "intakes": self.intakes,
            "rejects_open": self.rejects_open,
        }


def store_contents(store: Store, *, as_of: datetime.date) -> Contents:
    """Say what a store holds.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day is counted.
    """
    counted = dict(store.query("store/tables", as_of=as_of).itertuples(index=False, name=None))
    facts = store.query("store/facts").iloc[0]
    intakes = store.query("store/intakes", as_of=as_of)
    intakes["added_on"] = intakes["added_on"].dt.date
    stated = [None if pd.isna(day) else pd.Timestamp(day).date() for day in intakes["complete_to"]]
    intakes["complete_to"] = pd.Series(stated, dtype=object)
    return Contents(
        path=store.path,
        version=int(facts["version"]),
        bytes=store.path.stat().st_size,
        tables={table.name: int(counted[table.name]) for table in TABLES},
        intakes=tuple(
            IntakeLine(**dict(zip(map(str, intakes), row, strict=True)))
            for row in intakes.itertuples(index=False, name=None)
        ),
        rejects_open=int(facts["rejects_open"]),
    )
