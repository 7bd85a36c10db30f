"""The pages are for everybody: names, headings, contrast in both colours, sizes for a finger, and the keyboard alone.

The limits are those of the Web Content Accessibility Guidelines 2.2 (W3C recommendation), from memory: contrast 4.5 to
1 for text and 3 to 1 for large text and for what is drawn (1.4.3, 1.4.11), targets of 44 points (2.5.5, enhanced),
names (4.1.2), headings (1.3.1), a focus that is seen (2.4.7), nothing cut off at 320 points (1.4.10).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, Browser, browser
from tests.browser.forms.hand import ENTER, TAB, cell
from tests.browser.page_checks import FAINT, HEADINGS, LISTEN, NAMELESS, TOO_WIDE
from wearstats.domain.pattern import Pattern
from wearstats.report.forms.form import FollowUpForm, MeasuringForm
from wearstats.report.forms.pages import form_page
from wearstats.report.forms.wording import read_wording
from wearstats.studies.forms import SheetFitting

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

WORDING = read_wording("en")
D10 = Pattern(
    pattern="D10", splines=10, width_mm=5.448, space_width_mm=5.46, minor_mm=30.04, major_mm=34.925, engaged_mm=30
)
FITTINGS = tuple(SheetFitting(fitting=f"F{n}", shaft="S1", hub="H1", fitted_on="2026-03") for n in (1, 2))
FORMS: dict[str, MeasuringForm | FollowUpForm] = {
    "measuring": MeasuringForm(pattern=D10, wording=WORDING),
    "follow-up": FollowUpForm(fittings=FITTINGS, wording=WORDING),
}

# what a finger must hit: a box by itself, a tick by its label
SMALL = """
const hit = field => ["radio", "checkbox"].includes(field.type) ? field.closest("label") : field;
return [...document.querySelectorAll("input, select, textarea, button, summary")].map(hit)
  .filter(one => one.getClientRects().length && one.getBoundingClientRect().height < 44)
  .map(one => one.outerHTML.slice(0, 90) + " " + one.getBoundingClientRect().height);
"""


@pytest.fixture(scope="module", params=FORMS)
def page(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Browser, str]]:
    """A form on a narrow phone, with something odd, refused and stopped on it."""
    folder = tmp_path_factory.mktemp("access")
    file: Path = folder / "form.html"
    file.write_text(form_page(FORMS[request.param]), encoding="utf-8")
    with browser(folder=folder, width=320) as opened:
        opened.before_each_page(LISTEN)
        opened.open(file)
        if request.param == "measuring":
            opened.click("[name=reads][value='mm 0.01']")
            opened.paste(cell(1, 0), "5.44 5.43 5.44\n5.43 5.44 5.43\n5.34 59.8 five")
            opened.click("[value=cracked]")
        else:
            opened.click("[name=state-1][value=loose]")
        opened.click("#save")
        yield opened, request.param


def test_everything_has_a_name_and_headings_are_in_order(page: tuple[Browser, str]) -> None:
    opened, _ = page
    assert opened.run(NAMELESS) == []
    levels = opened.run(HEADINGS)
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels)), levels
    assert opened.console() == []
    assert opened.run("return window.broken") == []


def test_a_finger_hits_everything_and_nothing_is_cut_off(page: tuple[Browser, str]) -> None:
    opened, _ = page
    opened.run("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    assert opened.run(SMALL) == []
    assert opened.run(TOO_WIDE) == []
    assert opened.run("return document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_there_is_contrast_by_day_and_by_night(page: tuple[Browser, str], scheme: str) -> None:
    opened, _ = page
    opened.in_colours(scheme)
    ground = opened.run("return getComputedStyle(document.documentElement).backgroundColor")
    assert (ground == "rgb(255, 255, 255)") == (scheme == "light")
    assert opened.run(FAINT) == []


def test_the_keyboard_alone_reaches_everything_and_shows_where_it_is(page: tuple[Browser, str]) -> None:
    opened, kind = page
    opened.run("document.activeElement.blur(); window.scrollTo(0, 0);")
    opened.click("summary")
    reached = []
    shown = (
        "const one = document.activeElement, box = one.closest('.tiles label') || one, style = getComputedStyle(box);"
        "const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;"
        "return [one.name || one.id || one.tagName, ring || style.boxShadow !== 'none']"
    )
    for _ in range(90):
        opened.press(TAB)
        name, seen = opened.run(shown)
        if name in ("BODY", "HTML"):
            break
        reached.append(name)
        assert seen, name
    wanted = opened.run(
        "return [...document.querySelectorAll('input, select, textarea, #save, #copy, #fresh')]"
        ".filter(one => one.getClientRects().length).map(one => one.name || one.id)"
    )
    assert set(wanted) <= set(reached)
    if kind == "follow-up":
        # the arrows choose, the blank takes back
        opened.run("document.querySelector('[name=state-2]').focus()")
        opened.press(" ")
        assert opened.run("return document.querySelector('[name=state-2]').checked")
        opened.press(" ")
        assert not opened.run("return document.querySelector('[name=state-2]').checked")
        opened.press(ENTER)
        assert opened.text("#done") == "1 of 2 hubs answered"
