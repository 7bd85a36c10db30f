"""Readings are typed with few keys: first figures stand there, it goes on by itself, a block can be pasted."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, Browser, browser
from tests.browser.forms.demo_sheets import demo_sheets
from tests.browser.forms.hand import AT, BACKSPACE, ENTER, Hand, cell, values
from wearstats.domain.pattern import Pattern
from wearstats.report.forms.form import MeasuringForm
from wearstats.report.forms.pages import form_page
from wearstats.report.forms.wording import read_wording

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

D8 = Pattern(pattern="D8", splines=8, width_mm=6, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=28)
D10 = Pattern(
    pattern="D10", splines=10, width_mm=5.448, space_width_mm=5.46, minor_mm=30.04, major_mm=34.925, engaged_mm=30
)
W12 = Pattern(pattern="W12", splines=8, width_mm=12, space_width_mm=12.01, minor_mm=72, major_mm=82, engaged_mm=60)


@pytest.fixture(scope="module")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Browser, Path]]:
    folder = tmp_path_factory.mktemp("phone")
    for pattern in (D8, D10, W12):
        page = form_page(MeasuringForm(pattern=pattern, wording=read_wording("en")))
        (folder / f"{pattern.pattern}.html").write_text(page, encoding="utf-8")
    (folder / "empty.html").write_text("<!doctype html>", encoding="utf-8")
    with browser(folder=folder, width=390) as opened:
        yield opened, folder


def begin(phone: tuple[Browser, Path], pattern: str, reads: str) -> Hand:
    page, folder = phone
    # a sheet that is left writes its draft once more, so the drafts are thrown away from a page that has none
    page.open(folder / "empty.html")
    page.run("localStorage.clear()")
    page.open(folder / f"{pattern}.html")
    hand = Hand(page)
    hand.tap("#begin")
    hand.tap(f"[name=reads][value='{reads}']")
    return hand


def first_box(phone: tuple[Browser, Path], pattern: str, reads: str) -> Browser:
    """Open a new sheet, with the focus in its first box."""
    begin(phone, pattern, reads).tap(cell(1, 0))
    return phone[0]


def sheet_of_demo(pattern: str, reads: str) -> list[str]:
    """Give the readings of the first whole sheet of the invented data of a pattern and a gauge, in order."""
    (sheet, *_) = [one for one in demo_sheets() if (one.pattern, one.reads) == (pattern, reads) and one.whole]
    return [sheet.texts[place] for place in sorted(sheet.texts)]


# a plain page of boxes, where each is tapped and typed whole, takes 37 taps and 162 keys at three decimals of a
# millimetre: 30 and 7 taps, 150 and 12 keys
@pytest.mark.parametrize(
    ("reads", "taps", "keys"),
    [("mm 0.01", 8, 73), ("mm 0.001", 8, 88), ("in 0.0001", 8, 76)],
)
def test_thirty_readings_take_half_the_taps_and_keys(
    phone: tuple[Browser, Path], reads: str, taps: int, keys: int
) -> None:
    texts = sheet_of_demo("D10", reads)
    hand, page = begin(phone, "D10", reads), phone[0]
    hand.tap("[name=kind][value='micrometer-flat']")
    hand.tap(cell(1, 0))
    for text in texts:
        hand.read(text)
    assert values(page) == texts
    hand.tap("[name='condition sound']")
    hand.tap("#shaft")
    hand.press("S0297" + ENTER)
    assert page.run(AT + "return cell.id") == "measured_by"
    hand.press("owner 9")
    hand.tap("[name=spline_1_marked][value=yes]")
    hand.tap("#save")
    assert page.text("#told").startswith("Saved as measuring-D10-S0297-")
    assert (hand.taps, hand.keys) == (taps, keys)


def test_the_figures_that_stand_there_hang_on_the_first_spline(phone: tuple[Browser, Path]) -> None:
    page = first_box(phone, "D10", "mm 0.001")
    assert page.run(AT + "return cell.value") == "5."
    page.press("431440442")
    # the first spline shares 5.4, so two figures are typed from here on
    assert page.run(AT + "return [cell.name, cell.value]") == ["2 0", "5.4"]
    page.press("5139")
    assert values(page)[:5] == ["5.431", "5.440", "5.442", "5.451", "5.439"]
    # out of that range: the whole size, typed over it
    page.press("5.39860")
    assert values(page)[5:7] == ["5.398", "5.460"]
    # a hand that does not look types the figure once more; 5.444 and 5.44 begin alike, so that Enter goes on
    page.press("43544" + ENTER + "38")
    assert values(page)[7:10] == ["5.435", "5.444", "5.438"]
    page.press("9")
    # what is half typed is seen after, and a first spline that shares nothing leaves three figures to type
    assert page.run(AT + "return cell.value") == "5.49"
    page = first_box(phone, "D10", "mm 0.001")
    page.press("399401403")
    assert values(page)[:3] == ["5.399", "5.401", "5.403"]
    assert page.run(AT + "return cell.value") == "5."


@pytest.mark.parametrize(
    ("pattern", "reads", "keys", "expected"),
    [
        # new or worn, 5.98 and 6.01 stand beside each other
        ("D8", "mm 0.01", "98" + "01" + "00" + "99", ["5.98", "6.01", "6.00", "5.99"]),
        ("D8", "mm 0.01", "01" + "98" + "02", ["6.01", "5.98", "6.02"]),
        # whole sizes, with a point or a comma, and with an Enter too much after each
        ("D8", "mm 0.01", "5.98" + "5,97" + "6.01", ["5.98", "5,97", "6.01"]),
        ("D8", "mm 0.01", f"98{ENTER}97{ENTER}5.96{ENTER}", ["5.98", "5.97", "5.96"]),
        # a point in the wrong place stays in its box
        ("D8", "mm 0.01", "59.8" + ENTER + "97", ["59.8", "5.97"]),
        ("D10", "in 0.0001", "134" + ".2136" + "0.2137" + "39", ["0.2134", ".2136", "0.2137", "0.2139"]),
        ("D10", "in 0.001", "14" + "13" + ".215", ["0.214", "0.213", ".215"]),
        ("D10", "thou 1", f"214{ENTER}213{ENTER}", ["214", "213"]),
        ("D10", "thou 0.1", "214.5213.9", ["214.5", "213.9"]),
        # 11 may be the beginning of 11.95, or mean 11.11
        ("W12", "mm 0.01", "95" + f"11{ENTER}" + "11.94" + "12.02", ["11.95", "11.11", "11.94", "12.02"]),
        # a wrong last figure is mended with Backspace, from the next box too
        ("D8", "mm 0.01", "98" + "96" + BACKSPACE + "7" + "99", ["5.98", "5.97", "5.99"]),
    ],
)
def test_what_is_typed_comes_out_as_it_was_read(
    phone: tuple[Browser, Path], pattern: str, reads: str, keys: str, expected: list[str]
) -> None:
    page = first_box(phone, pattern, reads)
    page.press(keys)
    assert values(page)[: len(expected)] == expected
    assert values(page)[len(expected) :] == [""] * (len(values(page)) - len(expected))


def test_a_place_is_left_blank_by_enter_and_nothing_typed_is_no_reading(phone: tuple[Browser, Path]) -> None:
    page = first_box(phone, "D8", "mm 0.01")
    page.press(ENTER)
    page.press("97")
    assert values(page)[:3] == ["", "5.97", ""]
    assert page.text("#done") == "1 of 24 readings"
    assert "\n1;;5.97;\n" in page.run("return document.querySelector('#text').value")
    # what stood in the box goes when it is left, and no draft holds it
    page.click("#shaft")
    assert page.run("return document.querySelectorAll('[data-spline]')[2].value") == ""
    page.open(phone[1] / "D8.html")
    page.wait_for("#done", "1 of 24 readings")


def test_a_full_sheet_is_corrected_where_the_hand_is(phone: tuple[Browser, Path]) -> None:
    page = first_box(phone, "D8", "mm 0.01")
    page.press("97" * 24)
    assert page.text("#done") == "24 of 24 readings"
    # the next is full: it does not go on by itself, so that a figure too many spoils nothing
    page.click(cell(3, 1))
    page.run(AT + "cell.select()")
    page.press("94")
    assert page.run(AT + "return [cell.name, cell.value]") == ["3 1", "5.94"]
    page.press(ENTER + "95")
    assert values(page)[7:9] == ["5.94", "5.95"]
    # from the last box Enter leads on to what was seen and felt
    page.click(cell(8, 2))
    page.press(ENTER)
    assert page.run(AT + "return cell.value") == "sound"


@pytest.mark.parametrize(
    ("at", "block", "expected"),
    [
        ((1, 0), "5.91\t5.92\t5.93\n5.94\t\t5.96\n", ["5.91", "5.92", "5.93", "5.94", "", "5.96"]),
        (
            (1, 0),
            "spline;shoulder;middle;nut-end\r\n2;5,94;5,95;5,96\r\n1;5,91;5,92;5,93",
            ["5,91", "5,92", "5,93", "5,94", "5,95", "5,96"],
        ),
        ((1, 0), "1 5.91 5.92 5.93\n2 5.94 5.95 5.96", ["5.91", "5.92", "5.93", "5.94", "5.95", "5.96"]),
        ((1, 1), "5.91\n5.92", ["", "5.91", "", "", "5.92", ""]),
        ((1, 1), "5.91 5.92 5.93", ["", "5.91", "5.92", "5.93", "", ""]),
        ((1, 0), "\n".join(f"5.9{n % 10}" for n in range(24)), [f"5.9{n}" for n in range(6)]),
    ],
    ids=["table", "with heads", "with numbers", "a column", "a line", "one after the other"],
)
def test_a_block_is_pasted(phone: tuple[Browser, Path], at: tuple[int, int], block: str, expected: list[str]) -> None:
    page = first_box(phone, "D8", "mm 0.01")
    page.paste(cell(*at), block)
    page.click("#shaft")
    assert values(page)[:6] == expected
    assert "readings pasted" in page.text("#pasted")
    assert page.console() == []


def test_what_finds_no_place_in_a_block_is_said(phone: tuple[Browser, Path]) -> None:
    page = first_box(phone, "D8", "mm 0.01")
    page.paste(cell(8, 1), "5.91 5.92 5.93 5.94")
    assert page.text("#pasted") == (
        "2 readings pasted; look whether each stands where it belongs. 2 found no place and were left out."
    )
    # one size is pasted as everywhere else
    page.paste(cell(1, 0), "5.91")
    assert values(page)[0] == ""
