"""The stores that are asked, and how the older checkout makes them from its demo."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.golden.odd_rows import BY_HAND, COMMON, SINGLE, odd_tables
from tests.golden.tables import Tables, read_tables

DEMO_DATA = Path("data") / "demo"
ADDED_ON = "2026-09-30"
"""The last day of the demo's history."""

_DAYS = ("2025-09-30", "2026-03-31", ADDED_ON)
_SAMPLED = "160"


def _whole(tables: Tables) -> Tables:
    return tables


def _without_outcomes(tables: Tables) -> Tables:
    return {name: rows for name, rows in tables.items() if name not in ("follow_ups", "returns")}


def _without_costs(tables: Tables) -> Tables:
    return tables | {"costs": [row for row in tables["costs"] if row["pattern"] != SINGLE]}


@dataclass(frozen=True, slots=True, kw_only=True)
class GoldenStore:
    """One store, and when and of what it is asked.

    Parameters
    ----------
    name : str
        What it is called.
    altered : callable
        Makes its tables from the demo's.
    days : tuple of str
        The days asked about; the last one is also asked for text and for the report.
    patterns : tuple of str
        The patterns asked about one by one, besides all together.
    shafts : tuple of str
        Shafts that are asked about besides those chosen by rule.
    environment : mapping of str to str
        What is set while it is asked.
    rejects : bool
        Whether some of its rows are meant to be kept out.
    thorough : bool
        Whether the second seed is asked about every day, not the last one only, and the report for its document too.
    quick : bool
        Whether it is asked in the quick check too.
    """

    name: str
    altered: Callable[[Tables], Tables] = _whole
    days: tuple[str, ...] = _DAYS
    patterns: tuple[str, ...] = (COMMON,)
    shafts: tuple[str, ...] = ()
    environment: Mapping[str, str] = field(default_factory=dict)
    rejects: bool = False
    thorough: bool = False
    quick: bool = False

    @property
    def file(self) -> str:
        """The store's file, as every command is told it: relative to the folder where it is asked."""
        return f"{self.name}.duckdb"

    def tables(self, checkout: Path) -> Tables:
        """Make its tables from the demo of a checkout."""
        return self.altered(read_tables(checkout / DEMO_DATA))

    def commands(self, files: Sequence[Path]) -> list[list[str]]:
        """Give the commands that make it from its files."""
        return [
            ["store", "new", "--store", self.file],
            ["store", "add", *map(str, files), "--store", self.file, "--as-of", ADDED_ON],
        ]


STORES = (
    # the one that takes longest first
    GoldenStore(name="sampled", environment={"WEARSTATS_SAMPLE_SHAFTS": _SAMPLED}),
    GoldenStore(name="demo", thorough=True, quick=True),
    GoldenStore(name="no-costs", altered=_without_costs),
    GoldenStore(name="no-outcomes", altered=_without_outcomes),
    GoldenStore(
        name="odd",
        altered=odd_tables,
        # early, late, and three months after the last entry
        days=("2024-12-31", "2025-12-31", "2026-12-31"),
        patterns=(COMMON, SINGLE),
        shafts=BY_HAND,
        rejects=True,
        thorough=True,
        quick=True,
    ),
)
