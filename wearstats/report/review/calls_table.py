"""Whom to call as a table, for the terminal, and as rows for a file."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from wearstats.report.remarks.say import say
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.review.calls_sentences import SHOWN
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.review.calls import CallsStudy


def calls_table(study: CallsStudy) -> DataTable:
    """Print the first hubs to ask after."""
    frame = study.calls.head(SHOWN)
    rows = pd.DataFrame(
        {
            "shaft": frame["shaft"],
            "fitting": frame["fitting"],
            "region": frame["region"].fillna(""),
            "due": [f"{day:%Y-%m-%d}" for day in frame["due_on"]],
            "heard": [f"{day:%Y-%m-%d}" for day in frame["last_word_on"]],
            "risk": ["" if pd.isna(risk) else in_hundred(risk) for risk in frame["risk"]],
            "teaches": ["" if pd.isna(share) else in_hundred(share) for share in frame["teaches"]],
            "why": frame["why"].map(say),
        }
    )
    heads = (
        "shaft", "fitting", "region", "due", "last word", "loose within a quarter, in 100",
        "doubt of the gap's part that an answer takes away, in 100", "why",
    )  # fmt: skip
    caption = f"Whom to ask next: the first {len(frame)} of {len(study.calls)} hubs in use"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def calls_frame(study: CallsStudy) -> pd.DataFrame:
    """Give all of them, why in words."""
    return study.calls.assign(why=study.calls["why"].map(say))


def write_calls(study: CallsStudy, path: Path) -> Path:
    """Write all of them, .csv or .xlsx; errors as of `write_rows`."""
    return write_rows(days_written(calls_frame(study)), path, sheet="calls")
