"""The report page in a real browser: silent, alone, within a phone's width and on A4, with and without its script."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, Browser, browser
from tests.report.made_page import made_page
from wearstats.report.page import render_page

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

# ISO 216, from memory
A4_CM = (21.0, 29.7)
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


@pytest.fixture(scope="module", params=[False, True], ids=["static", "interactive"])
def page_file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("page") / f"report-{request.param}.html"
    file.write_text(render_page(made_page(), interactive=request.param), encoding="utf-8", newline="\n")
    return file


@pytest.mark.parametrize("width", [1200, 360])
def test_the_page_is_silent_alone_and_within_the_window(page_file: Path, tmp_path: Path, width: int) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        page.open(page_file)
        if "True" in page_file.name:
            _wait_for_drawn(page, of=2)
        page.shoot(tmp_path / "page.png")
        assert page.run("return window.broken") == []
        assert page.console() == []
        assert {address for address in page.requested() if not address.startswith(("data:", "blob:"))} == {
            page_file.as_uri()
        }
        assert page.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        assert page.run(TOO_WIDE) == []


def test_it_prints_within_a4(page_file: Path, tmp_path: Path) -> None:
    with browser(folder=tmp_path, width=1000) as page:
        page.open(page_file)
        printed = page.printed(width_cm=A4_CM[0], height_cm=A4_CM[1])
        boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
        # 72 points an inch
        assert boxes
        assert {round(float(box[0]) * 2.54 / 72, 1) for box in boxes} == {A4_CM[0]}


def test_a_mark_tells_its_numbers_when_pointed_at(tmp_path: Path) -> None:
    file = tmp_path / "report.html"
    file.write_text(render_page(made_page(), interactive=True), encoding="utf-8", newline="\n")
    with browser(folder=tmp_path, width=1200) as page:
        page.before_each_page(LISTEN)
        page.open(file)
        _wait_for_drawn(page, of=2)
        page.run("document.querySelector('#map .wide .live .mark-rect path').scrollIntoView({block: 'center'})")
        page.point_at("#map .wide .live .mark-rect path")
        page.wait_for("#vg-tooltip-element", "spline", "station", "lost")
        assert page.run("return window.broken") == []
        assert page.console() == []


def _wait_for_drawn(page: Browser, *, of: int) -> None:
    """Scroll until every chart of the shown width has been drawn by the script."""
    for _ in range(100):
        page.run("document.querySelectorAll('figure').forEach(figure => figure.scrollIntoView())")
        drawn = page.run("return document.querySelectorAll('.drawn').length")
        if drawn == of:
            return
        time.sleep(0.1)
    raise AssertionError(f"{drawn} of {of} charts drawn; the browser says {page.console()}")
