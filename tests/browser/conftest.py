"""What tests of pages share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import made_once
from wearstats.report.overview import picture_page
from wearstats.report.page.render import render_page
from wearstats.studies.overview import study_picture
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="session")
def demo_page(run_folder: Path, demo: Snapshot) -> Path:
    """Give the page of the demo, which tests only read."""

    def make(file: Path) -> None:
        picture = study_picture(demo, horizon_months=12.0, risk_limit=0.05)
        file.write_text(render_page(picture_page(picture)), encoding="utf-8", newline="\n")

    return made_once(run_folder / "page.html", make)
