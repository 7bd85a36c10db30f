"""The fitting sheet says what to expect in a workshop's words, with every caution on it."""

from __future__ import annotations

import datetime
import html
import re
import zlib
from dataclasses import replace

import pytest

from wearstats.analysis.advice.rule import Advice
from wearstats.analysis.estimate import Estimate
from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.report.forms.fitting import LINES, fitting_page, fitting_sentences, fitting_stem
from wearstats.report.forms.fitting_pdf import fitting_pdf
from wearstats.report.forms.pages import PAPERS, Paper
from wearstats.report.forms.wording import read_wording
from wearstats.report.rendering.no_break import breakable
from wearstats.report.words.cautions import CAUTIONS
from wearstats.studies.shaft.fitting_sheet import BindingSpline, FittingSheet

PATTERN = Pattern(
    pattern="D4", splines=3, width_mm=6, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=28, pull_on_mm=6
)
OFF = Estimate(value=22.0, low=16.0, high=29.0)
SPLINES = (
    BindingSpline(spline=1, order=2, station="shoulder", off_um=OFF),
    BindingSpline(spline=2, order=1, station="nut-end", off_um=OFF),
    BindingSpline(spline=3, order=None, station="middle", off_um=Estimate(value=0.0, low=0.0, high=2.0)),
)
SHEET = FittingSheet(
    as_of=datetime.date(2026, 9, 30),
    shaft="S<1>",
    hub="H 1/2",
    pattern=PATTERN,
    undersize_um=50.0,
    gauged=True,
    splines=SPLINES,
    mean_off_um=OFF,
    advice=Advice(do="send", undersize_um=50.0, method="owner-fitted", why="it is tight enough."),
)
WORDING = read_wording("en")


def test_the_first_to_bind_and_how_much_has_to_come_off_are_said() -> None:
    first, off, marks = fitting_sentences(SHEET, WORDING)
    assert first == "Spline 2 should bind first, at its nut end; then spline 1."
    assert off.startswith("About 0.022 mm (0.0009 in) has to come off a space on average")
    assert "between 0.016 mm (0.0006 in) and 0.029 mm (0.0011 in)" in off
    assert "only the marks can tell" in marks


def test_a_hub_that_binds_nowhere_is_not_to_be_run_if_it_rocks() -> None:
    loose = replace(SHEET, splines=tuple(replace(item, order=None) for item in SPLINES), gauged=False)
    sentences = fitting_sentences(loose, WORDING)
    assert sentences[0].startswith("By the readings it binds nowhere. If it slides on and can be rocked at all, do not")
    assert "not gauged" in sentences[1]


def test_a_hub_that_was_not_advised_says_so_first() -> None:
    other = replace(SHEET, undersize_um=100.0)
    assert fitting_sentences(other, WORDING)[0].endswith("by the owner. it is tight enough.")


def test_the_page_has_every_caution_a_grid_and_no_script() -> None:
    page = fitting_page(SHEET, WORDING, paper="A4")
    plain = breakable(html.unescape(page))
    assert all(caution in plain for caution in CAUTIONS)
    assert page.count("☐") == 4 * PATTERN.splines
    assert "about 6 mm here" in plain
    assert "S&lt;1&gt;" in page
    assert "<script" not in page
    assert not re.search(r"(https?:|\bsrc=|\bhref=|url\(|<[^>]+ style=)", page)
    assert fitting_stem(SHEET) == "fitting-S-1-H-1-2"


def test_what_is_written_down_are_columns_of_the_fittings() -> None:
    known = {column.name for column in TABLE_BY_NAME["fittings"].columns}
    assert set(LINES) <= known
    assert set(LINES) <= set(WORDING["fields"])


# sizes in points: ISO 216 and ANSI/ASME Y14.1, both from memory
POINTS: dict[Paper, tuple[float, float]] = {"A4": (595.28, 841.89), "letter": (612.0, 792.0)}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("splines", [4, 16])
def test_the_pdf_is_one_page_of_the_paper_asked_for(splines: int, paper: Paper) -> None:
    pytest.importorskip("typst")
    rows = tuple(BindingSpline(spline=at + 1, order=at + 1, station="nut-end", off_um=OFF) for at in range(splines))
    sheet = replace(SHEET, pattern=replace(PATTERN, splines=splines, width_mm=4), splines=rows, undersize_um=100.0)
    made = fitting_pdf(sheet, WORDING, paper=paper)
    objects = made + b"".join(_unpacked(made))
    assert len(re.findall(rb"/Type\s*/Page\b", objects)) == 1
    found = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", objects)
    assert found is not None
    assert tuple(map(float, found.groups())) == pytest.approx(POINTS[paper], abs=0.1)


def test_names_in_the_pdf_are_text_and_nothing_else() -> None:
    pytest.importorskip("typst")
    odd = replace(SHEET, shaft='#read("/etc/passwd") $x$ *b* \u202e\x07 <end>', hub="\\ ] }")
    assert fitting_pdf(odd, WORDING, paper="A4").startswith(b"%PDF")


def _unpacked(pdf: bytes) -> list[bytes]:
    """Unpack what is packed in a PDF, for its pages may be named there."""
    packed = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    unpacked = []
    for part in packed:
        try:
            unpacked.append(zlib.decompress(part))
        except zlib.error:
            continue
    return unpacked
