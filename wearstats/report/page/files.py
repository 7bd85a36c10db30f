"""The files of a report: the page, and where asked for a PDF, every chart as a picture, every table as a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wearstats.errors import ReportError
from wearstats.report.page.model import Page
from wearstats.report.page.pdf import need_pdf, page_pdf
from wearstats.report.page.render import render_page
from wearstats.report.rendering.charts import spec_png
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import table_rows
from wearstats.report.rendering.write_files import write_in

PAGE_NAME: Final = "report.html"
PDF_NAME: Final = "report.pdf"
CHARTS: Final = "charts"
TABLES: Final = "tables"


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedFiles:
    """What a report is to consist of besides its page.

    Parameters
    ----------
    links : tuple of (str, str)
        Addresses of pages beside it, and what they are called.
    interactive : bool
        Whether the page's charts answer to a pointer.
    pdf, png, csv : bool
        Whether there is a PDF, a folder of charts, a folder of tables.
    """

    links: tuple[tuple[str, str], ...] = ()
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
        text = render_page(page, interactive=wanted.interactive, links=wanted.links)
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


def _write_charts(page: Page, folder: Path) -> list[Path]:
    folder.mkdir(exist_ok=True)
    return [write_in(folder, f"{figure.name}.png", spec_png(figure.specs[0])) for figure in page.figures]


def _write_tables(page: Page, folder: Path) -> list[Path]:
    """Write the table behind each chart under the chart's name, and those in the text under their section's."""
    folder.mkdir(exist_ok=True)
    tables = {figure.name: figure.table for figure in page.figures}
    for section in page.sections:
        parts = (section, section.more) if section.more else (section,)
        open_ones = [table for part in parts for said in part.said for table in said.tables]
        in_text = [*open_ones, *(table for part in parts for table in part.tables)]
        for number, table in enumerate(in_text, start=1):
            tables[f"{section.name}-table-{number}"] = table
    return [write_rows(table_rows(table), folder / f"{name}.csv", sheet=name[:31]) for name, table in tables.items()]
