"""Whom to call as tables, for the terminal and the page, and as rows for a file."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import remark
from wearstats.report.remarks.review import about
from wearstats.report.remarks.say import say
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import count, in_hundred, joined
from wearstats.studies.forecast.figures import InUse
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.review.calls import CallsStudy

FIRSTS = (10, 20, 50)
"""Of so many of those to be warned it is said how many may be loose already."""
SHOWN = 20
"""Hubs printed of those to be asked; a file holds all, and those to be warned are always all there."""


def calls_tables(study: CallsStudy) -> list[DataTable]:
    """Print all to be warned, and the first to be asked."""
    warn = study.calls[study.calls["to_warn"]]
    tables = (
        [_calls_table(warn, caption=f"Warn the owners of {count(len(warn), 'hub')}: stop, check for rattle")]
        if len(warn)
        else []
    )
    rest = study.calls[~study.calls["to_warn"]]
    if len(rest):
        shown = rest.head(SHOWN)
        tables.append(
            _calls_table(shown, caption=f"Then ask how it holds: the first {len(shown)} of {len(rest)} others")
        )
    return tables


def _calls_table(frame: pd.DataFrame, *, caption: str) -> DataTable:
    rows = pd.DataFrame(
        {
            "owner": frame["owner"].fillna(""),
            "shaft": frame["shaft"],
            "fitting": frame["fitting"],
            "hub": frame["hub"],
            "region": frame["region"].fillna(""),
            "due": [f"{day:%Y-%m-%d}" for day in frame["due_on"]],
            "heard": [f"{day:%Y-%m-%d}" for day in frame["last_word_on"]],
            "risk": ["" if pd.isna(risk) else in_hundred(risk) for risk in frame["risk"]],
            "teaches": ["" if pd.isna(share) else in_hundred(share) for share in frame["teaches"]],
            "why": frame["why"].map(say),
        }
    )
    heads = (
        "owner", "shaft", "fitting", "hub", "region", "due", "last word", "loose within a quarter, in 100",
        "doubt of the gap's part that an answer takes away, in 100", "why",
    )  # fmt: skip
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def warn_table(in_use: InUse) -> DataTable:
    """Print everybody to be warned, the most urgent first.

    Parameters
    ----------
    in_use : InUse
        The hubs in use.
    """
    to_warn = in_use.to_warn
    rows = pd.DataFrame(
        {
            "place": [str(place) for place in range(1, len(to_warn) + 1)],
            "owner": to_warn["owner"].fillna(""),
            "shaft": to_warn["shaft"],
            "hub": to_warn["hub"],
            "region": to_warn["region"].fillna(""),
            "now": ["" if pd.isna(risk) else in_hundred(risk) for risk in to_warn["loose_now"]],
            "risk": ["" if pd.isna(risk) else in_hundred(risk) for risk in to_warn["risk_quarter"]],
            "heard": [f"{day:%Y-%m-%d}" for day in to_warn["last_word_on"]],
            "batch": [
                batch if gone else "" for batch, gone in zip(to_warn["batch"], to_warn["withdrawn"], strict=True)
            ],
        }
    )
    heads = (
        "", "owner", "shaft", "hub", "region", "loose now, in 100", "within a quarter, in 100", "last word",
        "withdrawn batch",
    )  # fmt: skip
    columns = {
        name: head for name, head in zip(rows.columns, heads, strict=True) if name != "batch" or any(rows["batch"])
    }
    order = say(remark(First.STOP_AND_CHECK))
    caption = f"Owners of {count(len(to_warn), 'hub')} to be warned: {order}{_held(in_use)}"
    return table_of(rows, caption=caption, columns=columns)


def _held(in_use: InUse) -> str:
    """Say how many of the first ten, twenty and fifty may be loose already; nothing where no model tells."""
    loose, firsts = in_use.figures.loose_now, [first for first in FIRSTS if first < in_use.figures.to_warn]
    if loose is None or not firsts:
        return ""
    held = [f"{first} hold {about(in_use.held_by_first(first) or 0.0)}" for first in firsts]
    return f". Of {about(loose)} that may be loose already the first {joined(held)}"


def calls_frame(study: CallsStudy) -> pd.DataFrame:
    """Give all of them, why in words."""
    return study.calls.assign(why=study.calls["why"].map(say))


def write_calls(study: CallsStudy, path: Path) -> Path:
    """Write all of them, .csv or .xlsx; errors as of `write_rows`."""
    return write_rows(days_written(calls_frame(study)), path, sheet="calls")
