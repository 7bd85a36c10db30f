"""Rows as a file for the office: CSV or a workbook, with no cell that a spreadsheet could take for a formula."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from wearstats.errors import ReportError
from wearstats.report.rendering.escape import shown
from wearstats.store.archive.export import FORMULA_INSIDE, PLAIN

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def write_rows(rows: pd.DataFrame, path: Path, *, sheet: str) -> Path:
    """Write rows.

    Parameters
    ----------
    rows : DataFrame
        Text, numbers and days.
    path : Path
        To a file ending in .csv or .xlsx, which is overwritten.
    sheet : str
        Name of the sheet in a workbook.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    ReportError
        When the ending is another one, or the folder is not there.
    """
    harmless = harmless_rows(rows)
    try:
        if path.suffix.lower() == ".csv":
            harmless.to_csv(path, index=False, lineterminator="\n")
        elif path.suffix.lower() == ".xlsx":
            harmless.to_excel(path, index=False, sheet_name=sheet, engine="openpyxl")
        else:
            raise ReportError(f"{path}: ends in '{path.suffix}'; allowed: .csv, .xlsx; name the file so")
    except OSError as error:
        raise ReportError(f"{path}: cannot be written ({error.strerror}); choose another place") from error
    return path


def harmless_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Give rows with no cell or heading that a spreadsheet would take for a formula."""
    told = rows.apply(lambda column: column.map(_harmless) if column.dtype.kind not in "biufM" else column)
    named: pd.DataFrame = told.rename(columns=_harmless)
    return named


def _harmless(cell: object) -> object:
    """Put an apostrophe before text that a spreadsheet would take for a formula; a number is none."""
    if not isinstance(cell, str):
        return cell
    text = re.sub(FORMULA_INSIDE, r"\1'\2", shown(cell))
    return f"'{text}" if text.startswith(_FORMULA_STARTS) and not re.fullmatch(PLAIN, text) else text
