"""What a store holds: rows by table, intakes, rows still to be mended."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.domain.tables import TABLES
from wearstats.store.database.connection import Store
from wearstats.store.names.aliases import GIVEN
from wearstats.store.names.near import LookAlike, look_alikes


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeLine:
    """One intake: its day and kind, what it took back or was taken back by, and what became of its rows."""

    intake: int
    added_on: datetime.date
    bulk: bool
    complete_to: datetime.date | None
    kind: str
    undoes: int | None
    undone_by: int | None
    because: str | None
    files: tuple[str, ...]
    named: str | None
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
    dated = intakes[["added_on", "complete_to"]].map(lambda day: None if pd.isna(day) else pd.Timestamp(day).date())
    intakes = intakes.astype(object).where(intakes.notna(), None)
    intakes[["added_on", "complete_to"]] = dated
    intakes["files"] = intakes["files"].map(tuple)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class NamesHeld:
    """Names of a store that look alike, and those that stand for others.

    Parameters
    ----------
    alike : tuple of LookAlike
        In the order of kinds and names.
    standing : tuple of (str, str, str, int)
        Kind, name, what it stands for, and since which intake.
    """

    alike: tuple[LookAlike, ...]
    standing: tuple[tuple[str, str, str, int], ...]


def names_held(store: Store) -> NamesHeld:
    """Find the names that look alike, and those that stand for others."""
    standing = store.rows(
        "select kind, name, stands_for, intake from aliases where ended_by is null "
        "and list_contains($kinds::varchar[], kind) order by 1, 2",
        {"kinds": list(GIVEN)},
    )
    return NamesHeld(alike=look_alikes(store), standing=tuple((k, n, o, int(i)) for k, n, o, i in standing))
