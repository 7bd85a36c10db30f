"""The report page in a real browser: silent, alone, within a phone's width and on A4, with and without its script."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from tests.browser.page_checks import (
    DESK,
    LISTEN,
    OPEN_WORDS,
    PHONE,
    check_access,
    check_by_ear,
    check_paper,
    check_window,
    wait_for_drawn,
)
from tests.report.support.made_page import made_page
from wearstats.report.page.render import render_page

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

PRESS = "document.activeElement.dispatchEvent(new KeyboardEvent('keydown', {key: arguments[0], bubbles: true}))"
POINTED = """
return [...document.querySelectorAll('#map .wide .live :is(path, rect, line)')]
  .filter(mark => mark.__data__ && mark.__data__.tooltip).map(mark => mark.classList.contains('pointed'));
"""
# of 1280 x 800 points, and of a phone of 390 x 844; the words of three pages of paper
SCREENS, PHONE_SCREENS, WORDS = 10, 15, 1500


@pytest.fixture(scope="module", params=[False, True], ids=["static", "interactive"])
def page_file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("page") / f"report-{request.param}.html"
    file.write_text(render_page(made_page(), interactive=request.param), encoding="utf-8", newline="\n")
    return file


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_the_page_is_silent_alone_and_within_the_window(page_file: Path, tmp_path: Path, width: int) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        check_window(page, page_file, drawn=2 if "True" in page_file.name else 0)
        check_by_ear(page)


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_the_whole_picture_of_the_demo_is_so_too(demo_page: Path, tmp_path: Path, width: int) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        check_window(page, demo_page)
        check_by_ear(page)
        check_access(page)


@pytest.mark.parametrize(("width", "height", "most"), [(1280, 800, SCREENS), (390, 844, PHONE_SCREENS)])
def test_what_stands_open_is_read_in_minutes(
    demo_page: Path, tmp_path: Path, width: int, height: int, most: int
) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.open(demo_page)
        assert page.run("return document.documentElement.scrollHeight") <= most * height
        assert page.run(OPEN_WORDS) <= WORDS


def test_it_prints_within_a4(page_file: Path, tmp_path: Path) -> None:
    with browser(folder=tmp_path, width=1000) as page:
        page.open(page_file)
        check_paper(page)


def test_a_mark_tells_its_numbers_when_pointed_at(tmp_path: Path) -> None:
    file = tmp_path / "report.html"
    file.write_text(render_page(made_page(), interactive=True), encoding="utf-8", newline="\n")
    with browser(folder=tmp_path, width=DESK) as page:
        page.before_each_page(LISTEN)
        page.open(file)
        wait_for_drawn(page, of=2)
        page.run("document.querySelector('#map .wide .live .mark-rect path').scrollIntoView({block: 'center'})")
        page.point_at("#map .wide .live .mark-rect path")
        page.wait_for("#vg-tooltip-element", "spline", "station", "lost")
        # and by keyboard, mark by mark, told to a listener too
        page.run("document.querySelector('#map .wide .live').focus()")
        for key, where in (("ArrowRight", 0), ("ArrowRight", 1), ("ArrowLeft", 0)):
            page.run(PRESS, key)
            assert [at for at, marked in enumerate(page.run(POINTED)) if marked] == [where]
        assert "spline" in page.text("#told")
        assert page.run("return window.broken") == []
        assert page.console() == []
