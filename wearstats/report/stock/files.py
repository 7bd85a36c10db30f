"""What to make now, as a file for the office: CSV or a workbook."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from wearstats.errors import ReportError
from wearstats.report.remarks.frames import in_words
from wearstats.report.remarks.say import say
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.studies.stock.answer import StockStudy


def write_make_now(study: StockStudy, path: Path) -> Path:
    """Write a row a pattern and size.

    Parameters
    ----------
    study : StockStudy
    path : Path
        To a file ending in .csv or .xlsx, which is overwritten.

    Returns
    -------
    Path

    Raises
    ------
    ReportError
        When the ending is another one, the folder is not there, or nothing can be said of what to make.
    """
    frames = [in_words(part.make.make_frame()) for part in study.by_pattern.values() if part.make]
    if not frames:
        why = "; ".join(say(part.why_no_make) for part in study.by_pattern.values())
        raise ReportError(f"{path}: nothing to write, for how many to make cannot be told: {why}")
    return write_rows(pd.concat(frames, ignore_index=True), path, sheet="make now")
