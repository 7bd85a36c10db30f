"""Each slip made in a store of its own: what the intake says of it, and what the checks find then."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pandas as pd

from tests.robustness.slips.case import Row, Tables, case
from tests.robustness.slips.listed import Slip
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.store.intake.reports import IntakeReport
from wearstats.studies.demo import demo_as_of, demo_files

SHAFTS = 40
"""How many of the demo's shafts are in the store that slips are made in; its effects are tried in the whole demo."""

_BELONGS = (("shafts", "shaft"), ("inspections", "inspection"), ("dispatches", "hub"), ("fittings", "fitting"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What became of a slip.

    Parameters
    ----------
    intake : str
        ``kept out``, ``kept, but`` or ``nothing``.
    told : str
        What the intake said, of the first thing that it said because of the slip.
    checks : tuple of str
        The checks that find something which they do not find without the slip.
    """

    intake: str
    told: str
    checks: tuple[str, ...]


@cache
def _demo(shafts: int | None) -> Tables:
    """Give the rows of the demo, of its first shafts or all."""
    tables = {file.stem: pd.read_csv(file, dtype=str, keep_default_na=False) for file in demo_files()}
    if shafts is not None:
        tables["shafts"] = tables["shafts"].head(shafts)
        for table, key in _BELONGS:
            kept = set(tables[table][key])
            for name, rows in tables.items():
                if name not in {table, "hubs", "orders"} and key in rows:
                    tables[name] = rows[rows[key].isin(kept) | ((rows[key] == "") & (name != "returns"))]
    return {
        name: [{str(column): str(text) for column, text in row.items()} for row in rows.to_dict("records")]
        for name, rows in tables.items()
    }


def slipped(slip: Slip, rows: list[Row]) -> list[Row]:
    """Give the rows of the slip's table with the slip in them; ``*`` in what was typed changes what stood there."""
    wanted = [row for row in rows if all(row.get(column) == value for column, value in slip.at.items())]
    if not wanted:
        raise AssertionError(f"{slip.name}: no such row")
    touched = wanted if any(text.startswith("*") for text in slip.typed.values()) else wanted[:1]
    return [row | _typed(row, slip) if any(row is one for one in touched) else row for row in rows]


def _typed(row: Row, slip: Slip) -> Row:
    return {
        column: f"{float(row[column]) + float(text[1:]):.3f}" if text.startswith("*") else text
        for column, text in slip.typed.items()
    }


def add_rows(store: Store, tables: Tables, *, bulk: bool) -> IntakeReport:
    """Add rows as one intake on the demo's last day."""
    frames = {name: pd.DataFrame(rows).astype(object) for name, rows in tables.items() if rows}
    frames = {name: frame.where(frame.notna(), None) for name, frame in frames.items()}
    return add_frames(store, frames, added_on=demo_as_of(), bulk=bulk)


def first_load(path: Path, *, shafts: int | None = SHAFTS, slip: Slip | None = None) -> IntakeReport:
    """Make a store of the demo's shafts, with a slip in it or without."""
    tables = dict(_demo(shafts))
    if slip is not None:
        tables[slip.table] = slipped(slip, tables[slip.table])
    create_store(path)
    with open_store(path, write=True) as store:
        return add_rows(store, tables, bulk=True)


def later_file(path: Path, slip: Slip | None = None) -> IntakeReport:
    """Add the case to a store, with a slip in it or without."""
    tables = case()
    if slip is not None:
        tables[slip.table] = slipped(slip, tables[slip.table])
    with open_store(path, write=True) as store:
        return add_rows(store, tables, bulk=False)


def make_with(slip: Slip | None, clean: Path, path: Path, *, shafts: int | None = SHAFTS) -> IntakeReport:
    """Make a store with a slip, or with the case and no slip, beside a clean one of the demo's shafts."""
    if slip is not None and slip.scene == "first":
        return first_load(path, shafts=shafts, slip=slip)
    shutil.copy(clean, path)
    return later_file(path, slip)


def found_by_checks(path: Path) -> dict[str, set[str]]:
    """Give what each check finds in a store, but for rows kept out."""
    with open_store(path) as store:
        findings = run_checks(store, as_of=demo_as_of())
    found: dict[str, set[str]] = {}
    for finding in findings:
        if finding.check != "rejects_open":
            found.setdefault(finding.check, set()).add(f"{finding.place}: {finding.found}")
    return found


def try_slip(slip: Slip, clean: Path, path: Path, *, usual: dict[str, set[str]]) -> Tried:
    """Make a slip and see what is said of it; `usual` is what the checks find without it."""
    report = make_with(slip, clean, path)
    problems = [problem for file in report.files for problem in file.problems]
    notes = [note for note in report.notes if note.startswith("kept, but") and not _is_usual(note, usual)]
    intake = "kept out" if problems else "kept, but" if notes else "nothing"
    found = found_by_checks(path)
    checks = tuple(name for name, said in found.items() if said - usual.get(name, set()))
    return Tried(intake=intake, told=(problems + notes + [""])[0], checks=checks)


def _is_usual(note: str, usual: dict[str, set[str]]) -> bool:
    """Whether the intake says it of the rows without a slip too."""
    return any(said in note for all_said in usual.values() for said in all_said)


def in_a_folder(clean: Path | None = None) -> Callable[[Slip], Tried]:
    """Give a trial that makes the clean store once."""
    folder = Path(tempfile.mkdtemp(prefix="slips-"))
    if clean is None:
        clean = folder / "clean.duckdb"
        first_load(clean)
    without = folder / "without.duckdb"
    make_with(None, clean, without)
    usual = found_by_checks(without)
    stand = clean

    def trial(slip: Slip) -> Tried:
        path = folder / "slipped.duckdb"
        path.unlink(missing_ok=True)
        return try_slip(slip, stand, path, usual=usual)

    return trial
