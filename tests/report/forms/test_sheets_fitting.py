"""The fitting sheet says what to expect in a workshop's words, with every caution on it."""

from __future__ import annotations

import html
import re
import zlib
from dataclasses import replace

import pytest

from tests.report.support.made_sheets import CRACKED, advice, fitting_sheet, row
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.report.forms.drawing import hub_rings
from wearstats.report.forms.fitting import (
    LINES,
    fitting_content,
    fitting_drawing,
    fitting_page,
    fitting_sentences,
    fitting_stem,
)
from wearstats.report.forms.fitting_pdf import fitting_pdf
from wearstats.report.forms.pages import PAPERS, Paper
from wearstats.report.forms.wording import read_wording
from wearstats.report.rendering.no_break import breakable
from wearstats.report.words.cautions import CAUTIONS

PATTERN = Pattern(
    pattern="D4", splines=3, width_mm=6, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=28, pull_on_mm=6
)
SHEET = fitting_sheet(PATTERN, (row(1, 2, 22.0, 12.0, 0.4), row(2, 1, 31.0, 31.0, 31.0), row(3, None, 0.0, 0.0, 0.0)))
WORDING = read_wording("en")


def test_where_it_jams_how_much_has_to_come_off_and_what_is_alike_are_said() -> None:
    gauged, jams, off, doubt, marks = fitting_sentences(SHEET, WORDING)
    assert gauged == "This hub's spaces were gauged 5.960 mm wide on average; 5.960 mm was meant."
    assert jams == "This hub jams first at the shaft's nut end: its mouth is held there by spline 2."
    assert off.startswith("About 0.022 mm has to come off a place on average; between 0.016 mm and 0.029 mm if")
    assert doubt.startswith("Splines that differ by less than 0.006 mm are alike by these readings")
    assert "only the marks can tell" in marks
    several = fitting_sentences(replace(SHEET, jams_on=(2, 1)), WORDING)[1]
    assert several.endswith("by splines 2, 1, which are alike.")


def test_a_hub_that_hardly_binds_is_not_told_a_size_of_nothing() -> None:
    off = fitting_sentences(replace(SHEET, mean_off_um=Estimate(value=0.2, low=0.0, high=9.0)), WORDING)[2]
    assert off.startswith("Hardly anything has to come off; up to 0.009 mm")


def test_an_owner_who_reads_inches_is_told_inches() -> None:
    inches = replace(SHEET, unit="in")
    content = fitting_content(inches, WORDING)
    assert content["rows"][0]["off"] == ["0.0009", "0.0005", "-"]
    assert content["off_head"].startswith("to come off, in,")
    assert "differ by less than 0.0002 in" in " ".join(content["sentences"])
    assert fitting_content(SHEET, WORDING)["rows"][0] == {"spline": "1 ●", "rank": "2", "off": ["0.022", "0.012", "-"]}
    assert fitting_content(SHEET, WORDING)["rows"][2]["rank"] == "free"


def test_a_spline_from_which_nothing_comes_off_bears_no_number_and_no_shade() -> None:
    # alike to spline 2 within the doubt, yet nothing that could be filed to
    sheet = replace(SHEET, splines=(row(1, 2, 0.3, 0.0, 0.2), *SHEET.splines[1:]))
    assert fitting_content(sheet, WORDING)["rows"][0] == {"spline": "1 ●", "rank": "free", "off": ["-", "-", "-"]}
    shades = re.findall(r'Z" fill="(#[0-9a-f]+)"', fitting_drawing(sheet, WORDING))
    assert shades[:3] == ["#fff", "#08306b", "#fff"]


def test_the_columns_are_places_in_the_hub() -> None:
    assert fitting_content(SHEET, WORDING)["places"] == ["shoulder (mouth)", "middle", "nut end (nut face)"]


def test_a_hub_that_binds_nowhere_is_not_to_be_run_if_it_rocks() -> None:
    free = tuple(replace(item, rank=None) for item in SHEET.splines)
    sentences = fitting_sentences(replace(SHEET, splines=free, jams_at=None, jams_on=(), gauged=False), WORDING)
    assert sentences[0].startswith("By the readings it binds nowhere. If it slides on and can be rocked at all, do not")
    assert "not gauged" in sentences[1]


def test_the_first_step_of_the_advice_heads_the_sheet() -> None:
    content = fitting_content(SHEET, WORDING)
    assert content["advised"].startswith(
        "Send the hub 0.05 mm (0.0020 in) undersize, to be filed and fitted by the owner"
    )
    other = fitting_sentences(replace(SHEET, as_advised=False), WORDING)
    assert other[0] == "The hub of this sheet is not the one that is advised."
    first = replace(SHEET, advice=advice((First.MEASURE_AGAIN, remark(Finding.CALIPERS))))
    assert fitting_content(first, WORDING)["advised"].startswith("Send no hub yet: have it measured again")
    assert fitting_sentences(first, WORDING)[0] == "What stands below is for afterwards."


@pytest.mark.parametrize("first", [First.DO_NOT_RUN, First.SEND_SHAFT_HERE])
def test_where_nothing_may_be_fitted_no_step_of_work_is_printed(first: First) -> None:
    stopped = replace(SHEET, advice=advice((first, CRACKED)))
    plain = breakable(html.unescape(fitting_page(stopped, WORDING, paper="A4")))
    assert "A crack was seen (I7)" in plain or "a crack was seen (I7)" in plain
    assert "nothing is fitted to this shaft until that is settled" in plain
    assert not any(word in plain for word in ("☐", '<ol class="how">', "0.022", "<svg", "file the hub"))
    assert all(caution in plain for caution in CAUTIONS)


def test_the_steps_say_when_to_stop_and_what_then() -> None:
    steps = " ".join(fitting_content(SHEET, WORDING)["steps"])
    assert "(about 6 mm here), when at least 4 of the 6 sides mark" in steps
    assert "do not pull it home. Send it back" in steps
    assert "Ease a lead first" in steps
    assert "never drive" in steps


def test_play_is_asked_for_as_a_reading_with_its_radius() -> None:
    (line,) = [line for line in fitting_content(SHEET, WORDING)["lines"] if line["label"].startswith("Play")]
    assert line["label"] == "Play: reading, unit, and at what radius"
    # mean radius of the flanks, (36 + 32) / 4
    assert "17 mm / radius" in line["hint"]


def test_the_rings_run_clockwise_from_the_nut_face_and_the_other_way_into_the_mouth() -> None:
    drawn = hub_rings(4, (1.0, 0.5, None, 0.5), (1, 2, None, 2), WORDING)
    faces = drawn.split("<g transform")[1:]
    places = [
        {int(n): (int(x), int(y)) for x, y, n in re.findall(r'x="(\d+)" y="(\d+)" font-size="15"[^>]*>(\d+)<', face)}
        for face in faces
    ]
    # from the top: spline 2 of four stands to the right of the middle where they run clockwise
    assert [face[2][0] > 100 for face in places] == [True, False]
    assert all(face[1][1] < 100 < face[3][1] for face in places)
    shades = re.findall(r'Z" fill="(#[0-9a-f]+)"', faces[0])
    assert shades[0] == "#08306b"
    assert shades[2] == "#fff"
    assert shades[1] == shades[3] not in {shades[0], shades[2]}


def test_the_page_has_every_caution_a_grid_and_no_script() -> None:
    page = fitting_page(SHEET, WORDING, paper="A4")
    plain = breakable(html.unescape(page))
    assert all(caution in plain for caution in CAUTIONS)
    assert page.count("☐") == 4 * PATTERN.splines
    assert "clockwise as seen from its nut face" in plain
    assert "anticlockwise side" in plain
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
    rows = tuple(row(at + 1, at + 1, 30.0, 20.0, 10.0) for at in range(splines))
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
