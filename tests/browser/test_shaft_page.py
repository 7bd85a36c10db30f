"""The page of one shaft in a real browser: silent, alone, within the window and on paper."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from tests.browser.page_checks import DESK, LISTEN, PHONE, check_by_ear, check_window
from tests.report.support.made_studies import shaft_study
from wearstats.report.folder.files import write_shaft_page

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]


@pytest.mark.parametrize("width", [DESK, PHONE])
def test_the_page_is_silent_alone_and_within_the_window(tmp_path: Path, width: int) -> None:
    file = write_shaft_page(shaft_study(), tmp_path / "shaft.html", invented=True)
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        check_window(page, file)
        check_by_ear(page)
