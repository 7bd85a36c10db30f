"""The making list as files: pages to print, and the batches as rows to be added once they are made."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from wearstats.report.remarks.say import say
from wearstats.report.rendering.spreadsheet import harmless_rows
from wearstats.report.rendering.write_files import make_room, write_all
from wearstats.report.words.phrases import count

if TYPE_CHECKING:
    from wearstats.studies.making.answer import MakingList

ROWS: Final = "batches.csv"
"""Named as its table, so that intake knows where it belongs."""
OPTION: Final = "--making-list"


def page_name(paper: str) -> str:
    """Name the page for a paper."""
    return f"making-list-{paper.lower()}.html"


def room_for_making(folder: Path) -> None:
    """See that a list may be written there, before it is worked out; ReportError where it may not."""
    from wearstats.report.forms.pages import PAPERS

    make_room(folder, [ROWS, *map(page_name, PAPERS)], option=OPTION)


def write_making(making: MakingList, folder: Path) -> str:
    """Write the list; what was filled in by hand is never overwritten.

    Returns
    -------
    str
        What was written, or that nothing is to be made.

    Raises
    ------
    ReportError
        When a list is there already, or the folder cannot be written to.
    """
    # what makes pages takes a while to load: only where there is something to write
    from wearstats.report.forms.pages import PAPERS
    from wearstats.report.making.page import making_page

    not_told = "; ".join(f"of {name} it cannot be told: {say(why)}" for name, why in making.not_told.items())
    if not making.by_pattern:
        why = f"what is to be made now is not known ({not_told})" if not_told else "nothing is to be made now"
        return f"{why}, so no making list was written"
    rows = harmless_rows(making.batches_frame()).to_csv(index=False, lineterminator="\n")
    pages = {page_name(paper): making_page(making, paper=paper).encode() for paper in PAPERS}
    write_all(folder, {ROWS: rows.encode(), **pages}, option=OPTION)
    hubs, batches = making.hubs, sum(len(part.batches) for part in making.by_pattern.values())
    return (
        f"written: {count(hubs, 'hub')} in {count(batches, 'batch', 'batches')} to {folder}: print "
        f"{' or '.join(pages)}; once made, fill in made_on, put quantity right, and say: wearstats store add "
        f"{folder / ROWS}{f'; {not_told}' if not_told else ''}"
    )
