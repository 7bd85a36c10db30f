"""What to make now, as a file for the office: CSV or a workbook."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from wearstats.errors import ReportError
from wearstats.studies.stock_answer import StockStudy


def write_make_now(study: StockStudy, path: Path) -> Path:
    """Write a row a pattern and size.

    Parameters
    ----------
    study : StockStudy
        The answer.
    path : Path
        To a file ending in .csv or .xlsx, which is overwritten.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    ReportError
        When the ending is another one, the folder is not there, or nothing can be said of what to make.
    """
    frames = [part.make.make_frame() for part in study.by_pattern.values() if part.make]
    if not frames:
        why = "; ".join(part.why_no_make for part in study.by_pattern.values())
        raise ReportError(f"{path}: nothing to write, for how many to make cannot be told: {why}")
    rows = pd.concat(frames, ignore_index=True)
    # a spreadsheet must not take a pattern's name for a formula
    rows["pattern"] = ["'" + name if name[:1] in "=+-@\t" else name for name in rows["pattern"]]
    try:
        if path.suffix.lower() == ".csv":
            rows.to_csv(path, index=False, lineterminator="\n")
        elif path.suffix.lower() == ".xlsx":
            rows.to_excel(path, index=False, sheet_name="make now", engine="openpyxl")
        else:
            raise ReportError(f"{path}: ends in '{path.suffix}'; allowed: .csv, .xlsx; name the file so")
    except OSError as error:
        raise ReportError(f"{path}: cannot be written ({error.strerror}); name a folder that is there") from error
    return path
