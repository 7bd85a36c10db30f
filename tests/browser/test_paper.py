"""The paper forms of a common shaft fit on one page of either paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from tests.report.support.made_sheets import advice, fitting_sheet, row
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.analysis.remark import remark
from wearstats.domain.pattern import Pattern
from wearstats.report.forms.fitting import fitting_page
from wearstats.report.forms.form import FollowUpForm, MeasuringForm
from wearstats.report.forms.pages import PAPERS, print_page
from wearstats.report.forms.wording import read_wording
from wearstats.studies.forms import SheetFitting

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


def test_a_fitting_sheet_fits_on_one_page(tmp_path: Path) -> None:
    first = (First.MEASURE_AGAIN, remark(Finding.STRAY_READING, inspection="I7", spline=3, station="nut-end",
             found_um=-450.0, expected_um=-32.0, why="about a turn of a thimble off"))  # fmt: skip
    sheet = fitting_sheet(
        TEN,
        tuple(row(n, n, 40.0 - n, 20.0, 10.0) for n in range(1, 11)),
        undersize_um=100.0,
        gauged=False,
        jams_on=(1, 2, 3, 4, 5),
        on_other="S2",
        advice=advice(first),
    )
    with browser(folder=tmp_path, width=1000) as page:
        for paper in PAPERS:
            file = tmp_path / f"fitting-{paper}.html"
            file.write_text(fitting_page(sheet, read_wording("en"), paper=paper), encoding="utf-8")
            page.open(file)
            width, height = CENTIMETRES[paper]
            printed = page.printed(width_cm=width, height_cm=height)
            assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, file.name
        assert page.console() == []
