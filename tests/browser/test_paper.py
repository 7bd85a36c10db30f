"""The paper forms of a common shaft fit on one page of either paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from wearstats.domain.pattern import Pattern
from wearstats.report.sheets.form import FollowUpForm, MeasuringForm
from wearstats.report.sheets.pages import PAPERS, print_page
from wearstats.report.sheets.wording import read_wording
from wearstats.studies.sheets import SheetFitting

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

# ISO 216 and ANSI/ASME Y14.1, both from memory
CENTIMETRES = {"A4": (21.0, 29.7), "letter": (21.59, 27.94)}
# SAE 10 splines on 1.375 in, as the invented data have them: the tallest common table
TEN = Pattern(
    pattern="D10", splines=10, width_mm=5.448, space_width_mm=5.46, minor_mm=30.04, major_mm=34.925, engaged_mm=30
)


def test_each_form_fits_on_one_page(tmp_path: Path) -> None:
    wording = read_wording("en")
    fittings = tuple(SheetFitting(fitting=f"F{n}", shaft="S1", hub="H1", fitted_on=None) for n in (1, 2))
    forms: list[MeasuringForm | FollowUpForm] = [
        MeasuringForm(pattern=TEN, wording=wording),
        FollowUpForm(fittings=fittings, wording=wording),
    ]
    with browser(folder=tmp_path, width=1000) as page:
        for form in forms:
            for paper in PAPERS:
                file = tmp_path / f"{form.stem}-{paper}.html"
                file.write_text(print_page(form, paper=paper), encoding="utf-8")
                page.open(file)
                width, height = CENTIMETRES[paper]
                printed = page.printed(width_cm=width, height_cm=height)
                assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, file.name
        assert page.console() == []
