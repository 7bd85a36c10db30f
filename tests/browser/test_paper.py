"""The paper forms of a common shaft fit on one page of either paper."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, browser
from wearstats.analysis.advice.rule import Advice
from wearstats.analysis.estimate import Estimate
from wearstats.domain.pattern import Pattern
from wearstats.report.forms.fitting import fitting_page
from wearstats.report.forms.form import FollowUpForm, MeasuringForm
from wearstats.report.forms.pages import PAPERS, print_page
from wearstats.report.forms.wording import read_wording
from wearstats.studies.forms import SheetFitting
from wearstats.studies.shaft.fitting_sheet import BindingSpline, FittingSheet

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
    off = Estimate(value=22.0, low=16.0, high=29.0)
    why = "It is sure enough (over 99 %) to grip at least 80 % of the splines. About 31 µm have to come off. " * 3
    sheet = FittingSheet(
        as_of=datetime.date(2026, 9, 30),
        shaft="S1",
        hub="H1",
        pattern=TEN,
        undersize_um=100.0,
        gauged=False,
        splines=tuple(BindingSpline(spline=n, order=n, station="shoulder", off_um=off) for n in range(1, 11)),
        mean_off_um=off,
        advice=Advice(do="send", undersize_um=50.0, method="owner-fitted", why=why),
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
