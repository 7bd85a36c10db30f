"""The folder of pages in a real browser: silent, without network, within the window, on paper, and searched."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from tests.browser.page_checks import DESK, LISTEN, PHONE, check_access, check_paper, check_window
from tests.report.folder.test_files import NAMES, asked
from wearstats.report.folder.files import INDEX, SHAFTS, WARN, write_folder
from wearstats.report.rendering.write_files import safe_names
from wearstats.second_process import SecondProcess

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

SHOWN = """
return [...document.querySelectorAll("#shafts tbody tr")].filter(row => row.getClientRects().length)
  .map(row => row.querySelector("th").textContent);
"""
SEEN = "return document.querySelector(arguments[0]).getClientRects().length > 0"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("folder")
    write_folder(asked(), made, second=SecondProcess())
    return made


def shaft_file(folder: Path, name: str) -> Path:
    return folder / SHAFTS / f"{safe_names([name])[name]}.html"


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_pages_are_silent_alone_and_within_the_window(folder: Path, tmp_path: Path, width: int) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        for file in (folder / INDEX, folder / WARN, shaft_file(folder, NAMES[0])):
            check_window(page, file)
            check_access(page)


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_a_word_is_searched_without_network_and_leads_to_the_page(folder: Path, tmp_path: Path, width: int) -> None:
    with browser(folder=tmp_path, width=width) as page:
        page.open(folder / INDEX)
        assert page.run(SHOWN) == [*NAMES, "never"]
        page.type("#wanted", "вал")
        assert page.run(SHOWN) == ["Вал"]
        assert page.text("#shown") == "1 of 7"
        page.type("#wanted", "STOP d8")
        assert page.run(SHOWN) == list(NAMES[:3])
        page.type("#wanted", "owner-1")
        page.click("#shafts tbody tr:not([hidden]) a")
        assert page.text("h1") == f"Shaft {NAMES[0]} (D8): which hub?"
        page.click(".way li:nth-child(3) a")
        assert page.text("h1") == "Whom to warn"
        assert {address for address in page.requested() if not address.startswith("file:")} == set()


def test_the_warning_is_seen_before_anything_else_of_the_shaft(folder: Path, tmp_path: Path) -> None:
    with browser(folder=tmp_path, width=PHONE) as page:
        page.open(shaft_file(folder, NAMES[0]))
        box = page.run("const r = document.querySelector('.warning').getBoundingClientRect(); return [r.top, r.bottom]")
        # on the first screen of a phone, above all that is answered
        assert box[0] < 420
        assert box[1] <= page.run("return document.querySelector('.answer').getBoundingClientRect().top")
        border = page.run("return getComputedStyle(document.querySelector('.warning')).borderTopWidth")
        assert float(border.removesuffix("px")) >= 3


def test_they_print_within_a4(folder: Path, tmp_path: Path) -> None:
    for file in (shaft_file(folder, NAMES[0]), folder / WARN, folder / INDEX):
        with browser(folder=tmp_path, width=1000) as page:
            page.open(file)
            check_paper(page)
            if file.parent == folder:
                continue
            assert page.run(SEEN, ".warning")
            assert not page.run(SEEN, ".way")
