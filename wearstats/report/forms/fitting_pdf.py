"""The fitting sheet as a PDF of one page, set by the same library as a report."""

from __future__ import annotations

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from wearstats.report.forms.fitting import fitting_content, fitting_drawing
from wearstats.report.forms.pages import Paper
from wearstats.report.forms.wording import TEMPLATES, Wording
from wearstats.report.page.pdf import need_pdf
from wearstats.report.rendering.escape import all_shown
from wearstats.resources import resource
from wearstats.studies.shaft.fitting_sheet import FittingSheet

_PAPER: Final = {"A4": "a4", "letter": "us-letter"}


def fitting_pdf(sheet: FittingSheet, wording: Wording, *, paper: Paper) -> bytes:
    """Set the fitting sheet of one hub on one shaft.

    Parameters
    ----------
    sheet : FittingSheet
        What it tells.
    wording : Wording
        The words of its language.
    paper : Paper
        What it is printed on.

    Returns
    -------
    bytes
        The PDF, in letters as large as one page takes; the same for the same sheet.

    Raises
    ------
    ReportError
        Where the library that sets PDFs is not installed.
    """
    need_pdf()
    import typst

    drawing = fitting_drawing(sheet, wording)
    content = fitting_content(sheet, wording) | {
        "paper": _PAPER[paper],
        "heading": wording["fitting"]["title"],
        "drawing": wording["fitting"]["ring"],
        "cautions_heading": wording["common"]["cautions"],
    }
    with TemporaryDirectory() as folder:
        room = Path(folder)
        text = resource(f"{TEMPLATES}/fitting.typ").read_text(encoding="utf-8")
        (room / "fitting.typ").write_text(text, encoding="utf-8")
        (room / "sheet.json").write_text(json.dumps(all_shown(content)), encoding="utf-8")
        (room / "ring.svg").write_text(drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1), "utf-8")
        made: bytes = typst.compile(str(room / "fitting.typ"), root=str(room))
    return made
