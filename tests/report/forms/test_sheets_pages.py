"""The pages need nothing from anywhere, say the same as the store, and draw the shaft as it is."""

from __future__ import annotations

import base64
import hashlib
import math
import re

import pytest

from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import CONDITIONS
from wearstats.errors import UsageError
from wearstats.report.forms.drawing import shaft_end
from wearstats.report.forms.flags import OVER_PINS_MOST, OVER_PINS_TIMES, SHARE
from wearstats.report.forms.form import FOLLOW_UP_COLUMNS, MEASURING_LINES, FollowUpForm, MeasuringForm
from wearstats.report.forms.pages import PAPERS, form_page, print_page
from wearstats.report.forms.wording import languages, read_wording
from wearstats.report.rendering.no_break import breakable
from wearstats.report.rendering.write_files import file_stem
from wearstats.store.intake.plausibility import sizes
from wearstats.store.parsing.blocks import NAMED_BY, canonical, table_named
from wearstats.studies.forms import SheetFitting

PATTERN = Pattern(
    pattern="D8", splines=8, width_mm=6, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=28, register_mm=30
)
MEASURING = MeasuringForm(pattern=PATTERN, wording=read_wording("en"))
FOLLOW_UP = FollowUpForm(
    fittings=(SheetFitting(fitting="F<1>", shaft="S&1", hub="H1", fitted_on="2026-03"),), wording=read_wording("en")
)
PAGES = [form_page(MEASURING), form_page(FOLLOW_UP)]
PAPER = [print_page(form, paper=paper) for form in (MEASURING, FOLLOW_UP) for paper in PAPERS]


@pytest.mark.parametrize("page", PAGES)
def test_a_page_allows_its_own_script_and_style_by_digest_and_nothing_else(page: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    said = policy[1].replace("&#39;", "'")
    for tag in ("script", "style"):
        (text,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, flags=re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in said
    assert said.startswith("default-src 'none'; ")
    assert "form-action 'none'" in said
    assert "unsafe" not in said


@pytest.mark.parametrize("page", PAGES + PAPER)
def test_a_page_names_no_address_and_holds_no_inline_style_or_handler(page: str) -> None:
    assert not re.search(r"(https?:|//[a-z]|\bsrc=|\bhref=|@import|url\()", page)
    assert not re.search(r"<[^>]+ (style|on[a-z]+)=", page)
    # a phone message carries it
    assert len(page.encode()) < 64_000


def test_what_the_store_calls_a_fitting_cannot_break_the_page() -> None:
    assert "F<1>" not in PAGES[1].split("</style>")[1]
    assert "F&lt;1&gt;" in PAGES[1]


def test_the_page_finds_the_same_sizes_implausible_as_the_store() -> None:
    assert float(sizes.PLAUSIBLE_SHARE) == SHARE
    assert (sizes.OVER_PINS_TIMES, sizes.OVER_PINS_MOST) == (OVER_PINS_TIMES, OVER_PINS_MOST)


@pytest.mark.parametrize("page", [PAGES[0], PAPER[0]])
def test_a_measuring_form_asks_what_was_seen_says_where_to_measure_and_what_it_is_for(page: str) -> None:
    words, page = read_wording("en"), breakable(page)
    assert "Seen and felt: how are the splines?" in page
    assert set(words.choices("condition")) == set(CONDITIONS)
    assert all(meaning in page for meaning in words.choices("condition").values())
    assert "For straight-sided splines only" in page
    assert "shoulder 3.5 mm, middle 14 mm, nut end 24.5 mm" in page
    assert "outside micrometer, here 25 to 50 mm for about 30 mm; a caliper is not enough" in page
    assert "checked" not in page.split("</style>")[1].split('"setup"')[0]


def test_the_lines_of_the_form_are_what_the_store_reads() -> None:
    assert all(canonical(name.replace("_", " ")) == name for name in MEASURING_LINES)
    for name, parts in NAMED_BY.items():
        assert set(parts) <= set(MEASURING_LINES)
        assert name not in MEASURING_LINES


def test_every_language_has_the_words_of_the_english_one() -> None:
    def keys(words: object, at: str = "") -> set[str]:
        if not isinstance(words, dict):
            return {at}
        return {key for name, part in words.items() for key in keys(part, f"{at}/{name}")}

    english = read_wording("en").words
    assert languages()[0] == "en"
    assert all(keys(read_wording(name).words) == keys(english) for name in languages())
    asked = {*MEASURING_LINES, *FOLLOW_UP_COLUMNS} - {"prompted"}
    assert asked <= set(english["fields"])
    with pytest.raises(UsageError, match=r"'\.\./en' is not there; allowed: en"):
        read_wording("../en")


@pytest.mark.parametrize(
    ("parts", "stem"),
    [
        (("measuring", "D8", None), "measuring-D8"),
        (("measuring", "../../etc/D8", "S 1"), "measuring-etc-D8-S-1"),
        (("follow-up", "C:\\F1", None), "follow-up-C-F1"),
    ],
)
def test_no_name_leads_out_of_the_folder(parts: tuple[str | None, ...], stem: str) -> None:
    assert file_stem(*parts) == stem
    assert table_named(stem) is None


def test_a_form_changes_its_name_with_what_it_asks_for() -> None:
    wider = Pattern(pattern="D8", splines=8, width_mm=6.1, space_width_mm=6.11, minor_mm=32, major_mm=36, engaged_mm=28)
    assert MeasuringForm(pattern=wider, wording=read_wording("en")).form != MEASURING.form
    assert MEASURING.form.startswith("measuring D8 ")


def test_the_end_of_the_shaft_is_drawn_true_and_counted_clockwise() -> None:
    drawn = shaft_end(PATTERN, read_wording("en"))
    path = re.search(r'<path d="(M[^"]+Z)"', drawn)
    assert path is not None
    straight = re.findall(r"([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)", path[1])
    assert len(straight) == PATTERN.flanks
    # a flank is straight and parallel to its spline's middle line, half a width from it, from minor to major diameter
    for at, ends in enumerate(straight):
        turn = 2 * math.pi * (at // 2) / PATTERN.splines
        low, high = ([float(text) - 100 for text in pair] for pair in (ends[:2], ends[2:]))
        across = [x * math.cos(turn) + y * math.sin(turn) for x, y in (low, high)]
        assert abs(across[0]) == pytest.approx(66 * 6 / 36, abs=0.15)
        assert across[0] == pytest.approx(across[1], abs=0.15)
        assert {round(math.hypot(*low)), round(math.hypot(*high))} == {66, round(66 * 32 / 36)}
    places = {int(n): (float(x) - 100, float(y) - 104) for x, y, n in re.findall(r'x="(\d+)" y="(\d+)">(\d+)<', drawn)}
    # on a screen y points down: the angle grows clockwise
    angles = [math.atan2(places[n][0], -places[n][1]) % (2 * math.pi) for n in range(1, 9)]
    assert angles[0] == pytest.approx(0, abs=0.05)
    assert angles == sorted(angles)
