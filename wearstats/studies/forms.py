"""What a form must know: the pattern to measure, the fittings to ask after, the names to choose from."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError, UsageError
from wearstats.store.database.connection import Store
from wearstats.studies.inputs.widths import read_patterns


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFitting:
    """A fitting to ask after.

    Parameters
    ----------
    fitting, shaft, hub : str
        Their names.
    fitted_on : str or None
        The day or month, as it was written; None where it is not known.
    """

    fitting: str
    shaft: str
    hub: str
    fitted_on: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetNames:
    """The names in the store that a notebook offers to choose from.

    Parameters
    ----------
    names : dict
        Table to the names of its rows, in order.
    stations : tuple of str
        The stations of all patterns, from the shoulder to the nut end.
    """

    names: dict[str, tuple[str, ...]]
    stations: tuple[str, ...]


def sheet_pattern(store: Store, *, as_of: datetime.date, pattern: str | None) -> Pattern:
    """Find the pattern that a measuring sheet is for.

    Raises
    ------
    UsageError
        When none was named and the store knows not just one.
    AnalysisError
        When the store does not know it.
    """
    known = read_patterns(store, as_of=as_of)
    if pattern is None and len(known) == 1:
        return next(iter(known.values()))
    if pattern in known:
        return known[pattern]
    listed = ", ".join(sorted(known)) or "none"
    if pattern is None:
        raise UsageError(f"a measuring sheet is for one pattern, and the store knows {listed}; say --pattern NAME")
    raise AnalysisError(
        f"pattern '{pattern}' is not in the store, which knows {listed}",
        needed="its name as the store has it, or its row of patterns, added with: wearstats store add",
    )


def sheet_fittings(store: Store, fittings: Sequence[str], *, as_of: datetime.date) -> tuple[SheetFitting, ...]:
    """Find the fittings that a follow-up sheet asks after, in the order named, each once.

    Raises
    ------
    AnalysisError
        When the store does not know one of them; all of these are named.
    """
    known = store.query("forms/fittings", as_of=as_of).set_index("fitting", drop=False)
    wanted = list(dict.fromkeys(fittings))
    unknown = [name for name in wanted if name not in known.index]
    if unknown:
        raise AnalysisError(
            f"no fitting {', '.join(unknown)} was known on {as_of.isoformat()}",
            needed="its name as the store has it; wearstats store export lists all fittings",
        )
    return tuple(
        SheetFitting(
            fitting=str(row["fitting"]),
            shaft=str(row["shaft"]),
            hub=str(row["hub"]),
            fitted_on=None if pd.isna(row["fitted_on"]) else str(row["fitted_on"]),
        )
        for row in known.loc[wanted].to_dict("records")
    )


def sheet_names(store: Store, *, as_of: datetime.date) -> SheetNames:
    """List the names that a notebook offers to choose from."""
    found = store.query("forms/names", as_of=as_of)
    stations = [name for pattern in read_patterns(store, as_of=as_of).values() for name in pattern.stations]
    return SheetNames(
        names={str(table): tuple(map(str, rows)) for table, rows in found.groupby("table_name")["name"]},
        stations=tuple(dict.fromkeys(stations)),
    )
