"""The files of a report: the page, and where asked for a PDF, every chart as a picture, every table as a file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pandas as pd

from wearstats.errors import ReportError
from wearstats.report.page.model import Figure, Page
from wearstats.report.page.pdf import need_pdf, page_pdf
from wearstats.report.page.render import render_page
from wearstats.report.rendering.charts import spec_png
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable
from wearstats.report.rendering.write_files import write_in

PAGE_NAME: Final = "report.html"
PDF_NAME: Final = "report.pdf"
CHARTS: Final = "charts"
TABLES: Final = "tables"

_NUMBER: Final = r"[+\-\u2212]?\d+(?:\u202f\d{3})*(?:\.\d+)?"


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedFiles:
    """What a report is to consist of besides its page.

    Parameters
    ----------
    interactive : bool
        Whether the page's charts answer to a pointer.
    pdf, png, csv : bool
        Whether there is a PDF, a folder of charts, a folder of tables.
    """

    interactive: bool = False
    pdf: bool = False
    png: bool = False
    csv: bool = False

    def paths(self, out: Path) -> list[Path]:
        """List what will be written in a folder, and refuse at once what cannot be (ReportError)."""
        if self.pdf:
            need_pdf()
        more = {PDF_NAME: self.pdf, CHARTS: self.png, TABLES: self.csv}
        return [out / PAGE_NAME, *(out / name for name, wanted in more.items() if wanted)]


def write_report(page: Page, out: Path, wanted: WantedFiles) -> list[str]:
    """Write a page and what is wanted besides.

    Parameters
    ----------
    page : Page
        The page.
    out : Path
        A folder that is there; files in it are overwritten.
    wanted : WantedFiles
        What to write.

    Returns
    -------
    list of str
        A line for each file or folder written, to be printed.

    Raises
    ------
    ReportError
        When a file cannot be written.
    """
    try:
        text = render_page(page, interactive=wanted.interactive)
        write_in(out, PAGE_NAME, text.encode())
        said = [f"The page: {out / PAGE_NAME}"]
        if wanted.pdf:
            write_in(out, PDF_NAME, page_pdf(page))
            said.append(f"On paper: {out / PDF_NAME}")
        if wanted.png:
            said.append(f"The charts: {len(_write_charts(page, out / CHARTS))} pictures in {out / CHARTS}")
        if wanted.csv:
            said.append(f"The tables: {len(_write_tables(page, out / TABLES))} files in {out / TABLES}")
    except OSError as refused:
        raise ReportError(f"{out}: cannot be written to ({refused.strerror}); choose another --out") from refused
    return said


def _figures(page: Page) -> list[Figure]:
    return [figure for section in page.sections for figure in section.figures]


def _write_charts(page: Page, folder: Path) -> list[Path]:
    folder.mkdir(exist_ok=True)
    return [write_in(folder, f"{figure.name}.png", spec_png(figure.specs[0])) for figure in _figures(page)]


def _write_tables(page: Page, folder: Path) -> list[Path]:
    """Write the table behind each chart under the chart's name, and those in the text under their section's."""
    folder.mkdir(exist_ok=True)
    tables = {figure.name: figure.table for figure in _figures(page)}
    for section in page.sections:
        for number, table in enumerate(section.tables, start=1):
            tables[f"{section.name}-table-{number}"] = table
    return [write_rows(table_rows(table), folder / f"{name}.csv", sheet=name[:31]) for name, table in tables.items()]


def table_rows(table: DataTable) -> pd.DataFrame:
    """Give a printed table as text, a column a heading; numbers as a spreadsheet reads them."""
    rows = [[_plain_number(cell) for cell in row] for row in table.rows]
    return pd.DataFrame(rows, columns=list(table.head), dtype=str)


def _plain_number(cell: str) -> str:
    """Give a printed number with the signs of a keyboard, a range without plus signs, and words as they are."""
    if re.fullmatch(_NUMBER, cell):
        return cell.lstrip("+").replace("\u2212", "-").replace("\u202f", "")
    return re.sub(r"(?<!\S)\+(?=\d)", "", cell)
