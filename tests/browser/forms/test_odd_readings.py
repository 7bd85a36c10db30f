"""The page's rule for odd readings against the same rule worked out with numpy, on clean sheets and planted slips.

The sheets are those of the invented data: nobody who wrote the rule's limits knew where slips would be planted. What is
flagged is held to, and written to the log (`-o log_cli=1 --log-level=INFO`).
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.browser.driver import PRESENT, Browser, browser
from tests.browser.forms.demo_sheets import SPLINES, STATIONS, DemoSheet, demo_sheets
from wearstats.domain.pattern import Pattern
from wearstats.report.forms.form import MeasuringForm
from wearstats.report.forms.pages import form_page
from wearstats.report.forms.wording import read_wording

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

NEW_UM = {"D8": 6000.0, "D10": 5448.0}
UM_PER = {"mm": 1000.0, "in": 25_400.0, "thou": 25.4}
# of each sheet: its gauge chosen, its boxes filled, and every box that is marked with the words below its row
FILL = """
const [reads, texts] = arguments;
document.querySelectorAll("[name=reads]").forEach(one => { one.checked = one.value === reads; });
const cells = [...document.querySelectorAll("[data-spline]")];
cells.forEach(cell => { cell.value = texts[cell.name] || ""; });
cells[0].dispatchEvent(new Event("input", {bubbles: true}));
return [
  cells.filter(cell => cell.classList.contains("odd") || cell.classList.contains("bad")).map(cell => cell.name),
  [...document.querySelectorAll("table .why")].map(one => one.textContent).join("\\n"),
];
"""
LOG = logging.getLogger(__name__)
SWAPPED, TURN, STRAY = "in each other's place", "turn of the thimble", "most of the others; measure it again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a page says of a sheet: boxes that are marked and the notes of its rows."""

    marked: frozenset[str]
    notes: str


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Browser, Path]]:
    folder = tmp_path_factory.mktemp("odd")
    for name, splines in SPLINES.items():
        pattern = Pattern(
            pattern=name, splines=splines, width_mm=NEW_UM[name] / 1000, space_width_mm=NEW_UM[name] / 1000 + 0.01,
            minor_mm=32, major_mm=36, engaged_mm=28,
        )  # fmt: skip
        page = form_page(MeasuringForm(pattern=pattern, wording=read_wording("en")))
        (folder / f"{name}.html").write_text(page, encoding="utf-8")
    with browser(folder=folder, width=1000) as opened:
        yield opened, folder


def judged(page: Browser, reads: str, texts: dict[tuple[int, int], str]) -> Judged:
    named = {f"{spline} {at}": text for (spline, at), text in texts.items()}
    marked, notes = page.run(FILL, reads, named)
    return Judged(marked=frozenset(marked), notes=notes)


def expected_marks(sheet: DemoSheet, texts: dict[tuple[int, int], str]) -> frozenset[str]:
    """Work out with numpy which boxes are odd among those of their sheet; all are near the new width here."""
    unit, step = sheet.reads.split(" ")
    places = sorted(texts)
    read_um = np.array([float(texts[place]) * UM_PER[unit] for place in places])
    if len(places) < 4:
        return frozenset()
    station = np.array([at for _, at in places])
    centre = float(np.median(read_um))
    middle = np.full(len(STATIONS), centre)
    for at in range(len(STATIONS)):
        if np.count_nonzero(station == at) >= 4:
            middle[at] = np.median(read_um[station == at])
    off = read_um - middle[station]
    # median absolute deviation; 1.4826 = 1 / the standard normal's upper quartile
    scatter = 1.4826 * float(np.median(np.abs(off - np.median(off))))
    floor = float(np.hypot(5 * (1 + 8 / len(places)), float(step) * UM_PER[unit] / 12**0.5))
    scatter = max(scatter, floor)
    odd = np.abs(off) > 5 * scatter
    for n in np.flatnonzero(np.abs(off) > 3.5 * scatter):
        odd[n] |= bool(_nearest_swap(texts[places[n]], unit, middle[station[n]]) <= 1.5 * scatter)
    coarse = np.array([len(texts[place].split(".")[1]) < _decimals(step) for place in places])
    wide = read_um > NEW_UM[sheet.pattern] + 50
    # what is said once of most of a sheet still marks its boxes
    return frozenset(f"{places[n][0]} {places[n][1]}" for n in np.flatnonzero(odd | coarse | wide))


def _decimals(step: str) -> int:
    return len(step.split(".")[1]) if "." in step else 0


def _nearest_swap(text: str, unit: str, aim_um: float) -> float:
    """Give how near the aim a reading comes with two neighbouring figures exchanged, over the point too."""
    figures, point = text.replace(".", ""), text.index(".")
    tries: list[float] = []
    for n in range(len(figures) - 1):
        if figures[n] != figures[n + 1]:
            other = figures[:n] + figures[n + 1] + figures[n] + figures[n + 2 :]
            tries.append(abs(float(f"{other[:point]}.{other[point:]}") * UM_PER[unit] - aim_um))
    return min(tries, default=np.inf)


def moved(text: str, unit: str, step: str, by_um: float) -> str:
    """Write a reading as it would be read if the spline were so much wider."""
    steps = round((float(text) * UM_PER[unit] + by_um) / (float(step) * UM_PER[unit]))
    return f"{steps * float(step):.{_decimals(step)}f}"


def usable() -> list[DemoSheet]:
    """Give the sheets whose gauge is on the form."""
    offered = set(read_wording("en").choices("reads"))
    return [sheet for sheet in demo_sheets() if sheet.reads in offered]


def in_turn(pages: tuple[Browser, Path], sheets: list[DemoSheet]) -> Iterator[tuple[Browser, DemoSheet]]:
    """Open each pattern's page once, and hand out its sheets."""
    page, folder = pages
    for name in SPLINES:
        page.open(folder / f"{name}.html")
        page.run("localStorage.clear()")
        for sheet in sheets:
            if sheet.pattern == name:
                yield page, sheet


def test_clean_sheets_are_left_alone_and_the_page_agrees_with_numpy(pages: tuple[Browser, Path]) -> None:
    rng = np.random.default_rng(6)
    sheets, flagged, readings, early = usable(), 0, 0, 0
    for page, sheet in in_turn(pages, sheets):
        seen = judged(page, sheet.reads, sheet.texts)
        assert seen.marked == expected_marks(sheet, sheet.texts), sheet.inspection
        flagged += any(words in seen.notes for words in (SWAPPED, TURN, STRAY))
        readings += len(sheet.texts)
        # and while it is typed: some of the readings are in
        some = dict(sorted(sheet.texts.items())[: int(rng.integers(4, len(sheet.texts)))])
        half = judged(page, sheet.reads, some)
        assert half.marked == expected_marks(sheet, some), sheet.inspection
        early += any(words in half.notes for words in (SWAPPED, TURN, STRAY))
    LOG.info("clean: %s of %s sheets flagged (%s readings), %s half typed", flagged, len(sheets), readings, early)
    # at most 1 clean sheet in 20
    assert flagged <= len(sheets) / 20
    assert early <= len(sheets) / 20


# planted slip, in um, and the least share of sheets in which its box is marked
PLANTED = {"30": 0.15, "40": 0.55, "50": 0.8, "75": 0.9, "100": 0.97, "200": 1.0, "turn": 1.0, "swap": 0.98}


@pytest.mark.parametrize("slip", PLANTED)
def test_planted_slips_are_found(slip: str, pages: tuple[Browser, Path]) -> None:
    rng = np.random.default_rng([6, list(PLANTED).index(slip)])
    found, named, others, tried = 0, 0, 0, 0
    for page, sheet in in_turn(pages, usable()[::4]):
        unit, step = sheet.reads.split(" ")
        texts, place = dict(sheet.texts), sorted(sheet.texts)[int(rng.integers(len(sheet.texts)))]
        wrong = _planted(slip, texts[place], unit, step, rng)
        if wrong is None:
            continue
        texts[place] = wrong
        seen, box = judged(page, sheet.reads, texts), f"{place[0]} {place[1]}"
        if slip not in ("swap", "turn"):
            assert seen.marked == expected_marks(sheet, texts), sheet.inspection
        tried += 1
        found += box in seen.marked
        named += {"swap": SWAPPED, "turn": TURN}.get(slip, STRAY) in seen.notes
        others += len(seen.marked - {box} - expected_marks(sheet, sheet.texts))
    LOG.info("planted %s: %s of %s found, %s by that name, %s others marked", slip, found, tried, named, others)
    assert found >= PLANTED[slip] * tried
    assert others <= tried / 20


def _planted(slip: str, text: str, unit: str, step: str, rng: np.random.Generator) -> str | None:
    sign = float(rng.choice([-1.0, 1.0]))
    if slip == "turn":
        return moved(text, unit, step, sign * (500.0 if unit == "mm" else 635.0))
    if slip != "swap":
        return moved(text, unit, step, sign * float(slip))
    # the two figures whose exchange moves it by at least 80 um: less can be told from wear by no rule
    places = [n for n, sign in enumerate(text) if sign.isdigit()]
    tries: list[str] = []
    for a, b in pairwise(places):
        signs = list(text)
        signs[a], signs[b] = signs[b], signs[a]
        tries.append("".join(signs))
    apart = [other for other in tries if 80 < abs(float(other) - float(text)) * UM_PER[unit] < 800]
    return str(rng.choice(apart)) if apart else None


@pytest.mark.parametrize(
    ("reads", "first", "step", "said"),
    [
        ("mm 0.001", 5.94, 0.01, "show fewer figures than the gauge chosen above (0.001 mm)"),
        ("mm 0.01", 5.941, 0.001, "show more figures than the gauge chosen above (0.01 mm)"),
        ("mm 0.01", 59.41, 0.01, "the decimal seems to have slipped"),
        ("mm 0.01", 6.08, 0.01, "are wider than a new spline (6.000 mm)"),
        ("mm 0.01", 38.42, 0.01, "can only be sizes over pins or wires"),
        ("in 0.0001", 5.9411, 0.0001, "would be in millimetres. Was the whole sheet read in millimetres?"),
        ("mm 0.001", 0.2341, 0.0001, "would be in inches. Was the whole sheet read in inches?"),
    ],
)
def test_what_most_of_a_sheet_has_in_common_is_said_once(
    reads: str, first: float, step: float, said: str, pages: tuple[Browser, Path]
) -> None:
    page, folder = pages
    page.open(folder / "D8.html")
    page.run("localStorage.clear()")
    digits = _decimals(f"{step:f}".rstrip("0"))
    places = [(spline, at) for spline in range(1, 9) for at in range(3)]
    texts = {place: f"{first + step * (n * 7 % 5):.{digits}f}" for n, place in enumerate(places)}
    seen = judged(page, reads, texts)
    assert len(seen.marked) == len(places)
    assert seen.notes.strip() == ""
    note = page.text("#note")
    assert note.startswith("24 of 24 readings") or note.startswith("In 24 of 24 readings")
    assert said in note
    # one that differs has its own note still
    texts[3, 1] = "five"
    assert "middle five, will not be taken: no number" in judged(page, reads, texts).notes
    assert said in page.text("#note")


def test_the_invented_sheets_hold_plain_readings_near_the_new_width() -> None:
    assert all(re.fullmatch(r"\d+\.\d+", text) for sheet in usable() for text in sheet.texts.values())
    far: list[NDArray[np.bool_]] = [
        np.abs(np.array([float(text) for text in sheet.texts.values()]) * UM_PER[sheet.reads.split(" ")[0]]
               / NEW_UM[sheet.pattern] - 1) > 0.15
        for sheet in usable()
    ]  # fmt: skip
    assert not any(one.any() for one in far)
