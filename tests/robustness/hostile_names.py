"""Names that try to be something else: markup, script, SQL, formulas, paths, and signs that terminals or pages obey."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from tests.store.support.small_store import LOADED_ON, Rows, fitting, inspection, make_store, readings_of, small_rows
from wearstats.store.archive.export import harmless_text
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files, add_frames
from wearstats.store.intake.reports import IntakeReport

# OWASP, "CSV Injection", from memory: a cell that begins with one of = + - @, a tab or a return may be run
FORMULAS = ("=1+1", '=HYPERLINK("x","y")', "+1+1", "-1+1", "@SUM(A1)", "=cmd|' /C calc'!A0", "'=1", "''=1", "-")
INSIDE = ("x;=1+1", "x;'=1", "-;-1;+1", "a\tb\n=1", "=1;=2", "'=1;''=2", "9;8")
"""The same behind what some spreadsheets take for the end of a cell."""

LONG = "L" * 10_000
MARKUP = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</title><svg onload=alert(1)>",
    "<!--",
    "]]>",
    "&lt;b&gt; &amp;",
    "javascript:alert(1)",
    '{{ 7 * 7 }} {% raw %} ${7*7} $x %s #read("page.typ")',
    "datum.value",
)
SQL = ("'; drop table shafts; --", '"; drop table shafts; --', "$as_of", "select 1", "null")
PATHS = ("../../etc/passwd", "/etc/passwd", "C:\\F1", "a/b", "..", "con")
SIGNS = (
    "\u200fS1",
    "S\u200e1",
    "S \U0001f6a2\U0001f469\u200d\U0001f527",
    "\u05e9\u05d5\u05e3 1",
    "e\u0301",
    "a\u2028b",
)
TURNED = ("S\u202e1", "\u2067S1", "S1\u2066", "\u202aS1\u202c")
"""Signs that turn the writing direction and, if obeyed, what stands behind the name."""

KEPT = (
    *FORMULAS,
    *INSIDE,
    *MARKUP,
    *SQL,
    *PATHS,
    *SIGNS,
    *TURNED,
    "a\u2029c",
    LONG,
    "x005F_ _x000D_",
    "a\tb",
    "two\nlines",
    'semi;"colon"',
)
"""Names that a store takes and gives back as they are."""

UNPRINTABLE = ("N\0ul", "B\x07ell", "\x1b[31mred", "D\x7fel", "C\x9bsi", "F\uffff")
"""Names that it refuses, with the reason."""


def named_rows(names: Sequence[str]) -> Rows:
    """Give a shaft, a hub, an inspection, its readings and a fitting of each name, as cells of a file bear them."""
    rows = small_rows()
    for number, name in enumerate(names):
        cell = harmless_text(name)
        known_by = None if ";" in name or number % 2 else cell
        rows["shafts"].append({"shaft": cell, "pattern": "D8", "engine": cell, "colour": cell})
        rows["hubs"].append({"hub": cell, "pattern": "D8", "undersize_um": "50", "drawer": cell})
        rows["inspections"].append(inspection(cell, shaft=cell, measured_by=cell))
        rows["readings"] += [row | {"said": cell} for row in readings_of(cell, ["5.98"])]
        rows["fittings"].append(fitting(cell, cell, "2026-01-20", shaft=cell, inspections=known_by))
    return rows


def make_named_store(path: Path, names: Sequence[str] = KEPT) -> Path:
    """Make a store whose things bear these names."""
    return make_store(path, named_rows(names))


def added(path: Path, table: str, rows: Sequence[Mapping[str, str | None]]) -> IntakeReport:
    """Add a frame to a store; whatever is kept out is in the report."""
    with open_store(path, write=True) as store:
        return add_frames(store, {table: pd.DataFrame(list(rows), dtype=object)}, added_on=LOADED_ON)


def again(path: Path, files: Sequence[Path], *, added_on: datetime.date = LOADED_ON) -> Path:
    """Add files to a new store."""
    create_store(path)
    with open_store(path, write=True) as store:
        report = add_files(store, files, added_on=added_on)
    assert report.kept_out == 0, report.to_dict()
    return path
