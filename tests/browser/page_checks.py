"""What holds of every page that is sent, looked at in a real browser: on a desk, on a phone and on paper."""

from __future__ import annotations

import re
import time
from itertools import pairwise
from pathlib import Path

from tests.browser.driver import Browser

# ISO 216, from memory
A4_CM = (21.0, 29.7)
# A4 less the page's own margins of 16 mm, at the 96 points an inch of CSS
A4_INNER_POINTS = round((21.0 - 2 * 1.6) / 2.54 * 96)
DESK, PHONE = 1200, 360

# what stands in the page's policy is told to a listener where it is broken (Content Security Policy 3, 5.3)
LISTEN = """
window.broken = [];
document.addEventListener("securitypolicyviolation", event => window.broken.push(event.violatedDirective));
"""
TOO_WIDE = """
const wide = document.documentElement.clientWidth;
const scrolls = element => element.closest(".scroll") !== null;
return [...document.body.querySelectorAll("*")]
  .filter(element => !scrolls(element) && element.getBoundingClientRect().right > wide + 1)
  .map(element => element.tagName + " " + element.className);
"""
# paper cannot be scrolled, so what is cut off there is lost
CUT_OFF = """
return [...document.body.querySelectorAll("*")]
  .filter(element => element.getClientRects().length && !element.closest("svg"))
  .filter(element => element.scrollWidth > element.clientWidth + 1 && element.clientWidth
    || element.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map(element => element.tagName + " " + element.className + " " + element.textContent.trim().slice(0, 60));
"""
OPEN_ALL = "document.querySelectorAll('details').forEach(details => { details.open = true; })"
HEADINGS = "return [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map(heading => Number(heading.tagName[1]))"
# of each figure: its name, whether each picture that is shown has a name, and the size of its table
FIGURES = """
const named = picture => picture.closest("[role=img][aria-label]") !== null
  && picture.closest("[role=img][aria-label]").getAttribute("aria-label").trim().length > 20;
return [...document.querySelectorAll("figure")].map(figure => {
  const shown = [...figure.querySelectorAll("svg")].filter(picture => picture.getClientRects().length);
  const table = figure.querySelector("figcaption table");
  return {
    name: figure.id,
    shown: shown.length,
    named: shown.every(named),
    caption: table && table.caption ? table.caption.textContent.trim() : "",
    columns: table ? table.querySelectorAll("thead th[scope=col]").length : 0,
    rows: table ? table.querySelectorAll("tbody tr th[scope=row]").length : 0,
  };
});
"""


def check_window(page: Browser, file: Path, *, drawn: int = 0) -> None:
    """Check a page at the browser's width: silent, alone, within the window, with open tables too.

    Parameters
    ----------
    page : Browser
        A browser that was told to `LISTEN` before each page.
    file : Path
        The page.
    drawn : int
        So many charts are drawn by the page's own script.
    """
    page.open(file)
    if drawn:
        # what stands folded is drawn when it is opened
        page.run(OPEN_ALL)
        wait_for_drawn(page, of=drawn)
    broken, complaints = page.run("return window.broken"), page.console()
    assert broken == [], broken
    assert complaints == [], complaints
    asked = {address for address in page.requested() if not address.startswith(("data:", "blob:"))}
    assert asked == {file.as_uri()}, asked
    for _ in range(2):
        wide = page.run(TOO_WIDE)
        assert wide == [], wide
        page.run(OPEN_ALL)
    assert page.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def check_by_ear(page: Browser) -> None:
    """Check an open page as a listener meets it: headings in order, each picture named, a table behind it."""
    levels = page.run(HEADINGS)
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels)), levels
    figures = page.run(FIGURES)
    assert figures
    for figure in figures:
        assert figure["shown"] == 1, figure
        assert figure["named"], figure
        assert figure["caption"], figure
        assert figure["columns"] >= 2, figure
        assert figure["rows"] >= 1, figure


def check_paper(page: Browser) -> None:
    """Check an open page on A4: it prints on that paper, and nothing is cut off there."""
    printed = page.printed(width_cm=A4_CM[0], height_cm=A4_CM[1])
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
    assert boxes
    # 72 points an inch
    assert {round(float(box[0]) * 2.54 / 72, 1) for box in boxes} == {A4_CM[0]}
    page.as_printed(width=A4_INNER_POINTS)
    page.run(OPEN_ALL)
    cut = page.run(CUT_OFF)
    assert cut == [], cut


def wait_for_drawn(page: Browser, *, of: int) -> None:
    """Scroll down the figures, until every chart of the shown width has been drawn by the script."""
    drawn = 0
    for at in range(of):
        page.run("document.querySelectorAll('figure')[arguments[0]].scrollIntoView()", at)
        for _ in range(300):
            drawn = page.run("return document.querySelectorAll('.drawn').length")
            if drawn > at:
                break
            time.sleep(0.02)
    assert drawn == of, f"{drawn} of {of} charts drawn; the browser says {page.console()}"
