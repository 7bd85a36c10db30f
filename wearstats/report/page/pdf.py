"""A page as a PDF on A4, set by a general typesetting library that comes with ``wearstats[pdf]``."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import wearstats
from wearstats.errors import ReportError
from wearstats.report.page.model import Page, Panel, Section
from wearstats.report.rendering.charts import svg_width
from wearstats.report.rendering.escape import each_text, finished
from wearstats.report.rendering.tables import DataTable
from wearstats.report.rendering.theme import PADDING, WIDE
from wearstats.resources import resource

TEMPLATE: Final = "reports/templates/page.typ"
_LIBRARY: Final = "typst"


def need_pdf() -> None:
    """Raise ReportError where the library that sets PDFs is not installed, before anything takes time."""
    if importlib.util.find_spec(_LIBRARY) is None:
        raise ReportError("a PDF needs a part that is not installed; install it with: pip install 'wearstats[pdf]'")


def page_pdf(page: Page) -> bytes:
    """Set a page as a PDF.

    Parameters
    ----------
    page : Page
        What stands on it. All tables behind the pictures are printed, for paper cannot be opened.

    Returns
    -------
    bytes
        The PDF: A4, tagged, each picture with its description; the same for the same page.

    Raises
    ------
    ReportError
        Where the library is not installed.
    """
    need_pdf()
    import typst

    with TemporaryDirectory() as folder:
        room = Path(folder)
        (room / "page.typ").write_text(resource(TEMPLATE).read_text(encoding="utf-8"), encoding="utf-8")
        (room / "page.json").write_text(json.dumps(harmless(page_content(page))), encoding="utf-8")
        for figure in page.figures:
            (room / f"{figure.name}.svg").write_text(figure.wide, encoding="utf-8")
        made: bytes = typst.compile(str(room / "page.typ"), root=str(room))
    return made


def harmless(content: dict[str, Any]) -> dict[str, Any]:
    """Give a page's content with all its texts as they can be shown and broken."""
    whole: dict[str, Any] = each_text(content, finished)
    return whole


def page_content(page: Page) -> dict[str, Any]:
    """Give the page's words and tables as plain data, pictures by the names of their files."""
    return {
        "title": page.title,
        "known_until": page.known_until,
        "invented": page.invented,
        "version": wearstats.__version__,
        "answer": list(page.answer),
        "panel": [] if page.panel is None else _panel(page.panel),
        "sections": [_section(section) for section in page.sections],
        "appendix": [
            _section(section.more) | {"heading": section.heading} for section in page.sections if section.more
        ],
        "cautions_heading": page.cautions_heading,
        "cautions": list(page.cautions),
        "glossary": [[word, meaning] for word, meaning in page.glossary.items()],
    }


def _panel(panel: Panel) -> list[str]:
    """Say what is to be done, and the figures with their changes, a line each."""
    do = [" ".join(part for part in (each.number, each.what, each.names) if part) for each in panel.actions]
    return do + [f"{each.number} {each.what} ({each.change})" for each in panel.figures]


def _section(section: Section) -> dict[str, Any]:
    return {
        "heading": section.heading,
        "said": [
            {
                "about": said.about,
                "verdict": said.verdict,
                "sentences": list(said.sentences),
                "tables": [_table(table) for table in said.tables],
            }
            for said in section.said
        ],
        "sentences": list(section.sentences),
        "points": list(section.points),
        "tables": [_table(table) for table in section.tables],
        "figures": [
            {
                "file": f"{figure.name}.svg",
                "alt": figure.description,
                # all pictures are drawn to one scale, so that their letters are of one size
                "share": min(svg_width(figure.wide) / (WIDE + 2 * PADDING), 1.0),
                # a table that stands in the text already is not printed twice
                "table": None if figure.table in section.tables else _table(figure.table),
            }
            for figure in section.figures
        ],
    }


def _table(table: DataTable) -> dict[str, Any]:
    # lists, for what makes texts harmless looks into lists
    return {"caption": table.caption, "head": list(table.head), "rows": [list(row) for row in table.rows]}
