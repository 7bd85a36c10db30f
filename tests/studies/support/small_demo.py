"""Stores of some of the demo's shafts, with what the invented history says of them: asked in a moment."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of, demo_files

SHAFTS = 80

_KEYS = (("shafts", "shaft"), ("inspections", "inspection"), ("dispatches", "hub"), ("fittings", "fitting"))
"""Which table's rows are kept first, and by which of its columns rows of other tables belong to them."""


def make_small_demo(
    path: Path, *, shafts: int = SHAFTS, pattern: str | None = None, without: tuple[str, ...] = ()
) -> None:
    """Make a store of the demo's first shafts; shelves, prices and orders are those of the whole.

    Parameters
    ----------
    path : Path
        Where.
    shafts : int
        How many shafts.
    pattern : str, optional
        Only of this pattern, and nothing known of others.
    without : tuple of str
        Tables of which nothing is on record.
    """
    tables = {file.stem: pd.read_csv(file, dtype=str, keep_default_na=False) for file in demo_files()}
    if pattern is not None:
        tables = {
            name: rows[rows["pattern"] == pattern] if "pattern" in rows else rows for name, rows in tables.items()
        }
    tables["shafts"] = tables["shafts"].head(shafts)
    for table, key in _KEYS:
        kept = set(tables[table][key])
        for name, rows in tables.items():
            if name not in {table, "hubs", "orders"} and key in rows:
                tables[name] = rows[rows[key].isin(kept) | ((rows[key] == "") & (name != "returns"))]
    create_store(path)
    with tempfile.TemporaryDirectory() as folder, open_store(path, write=True) as store:
        files = [Path(folder) / f"{name}.csv" for name, rows in tables.items() if name not in without and len(rows)]
        for file in files:
            tables[file.stem].to_csv(file, index=False)
        report = add_files(store, files, added_on=demo_as_of())
        assert report.kept_out == 0, report.to_dict()
