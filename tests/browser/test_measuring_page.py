"""The measuring page in a real browser: filled in, flagged, saved, added to a store, advice given."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, Browser, browser, downloaded
from tests.browser.forms.hand import ENTER, cell, values, wearstats
from tests.store.support.small_store import make_store
from wearstats.store.database.connection import open_store

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

WIDTHS = ["5.95", "5,94", "5.93", "5.95", "5.96", "5.94", "5.92", "5.95"]
STATIONS = 3
PICTURES = os.environ.get("SHEET_PICTURES")


@pytest.fixture(params=[1000, 360], ids=["desk", "phone"])
def shown(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Browser, Path, int]]:
    """A store, and its measuring page opened in a browser."""
    store = make_store(tmp_path / "bench.duckdb")
    made = wearstats("sheet", "measuring", "--pattern", "D8", "--check-piece", "6", "--out", tmp_path, "--store", store)
    assert made.exit_code == 0, made.output
    with browser(folder=tmp_path, width=request.param) as opened:
        opened.open(tmp_path / "measuring-D8.html")
        yield opened, tmp_path, request.param


def head(page: Browser, *, reads: str = "mm 0.01") -> None:
    page.click("[value=bruised]")
    page.click("[value=twisted]")
    page.type("#shaft", "S77")
    page.type("#measured_by", "owner 9")
    page.click("[name=kind][value=micrometer-flat]")
    page.click(f"[name=reads][value='{reads}']")
    page.click("[name=spline_1_marked][value=yes]")
    page.type("#hours", "1 200")
    page.run("document.querySelectorAll('#sheet details').forEach(fold => { fold.open = true; })")
    page.type("#check_reading", "6,01")


def readings(page: Browser) -> None:
    for spline, width in enumerate(WIDTHS, start=1):
        for at in range(STATIONS):
            page.type(cell(spline, at), width)


def picture(page: Browser, name: str) -> None:
    if PICTURES:
        page.shoot(Path(PICTURES) / f"{name}.png")


def test_filled_in_saved_added_and_advised(shown: tuple[Browser, Path, int]) -> None:
    page, folder, width = shown
    assert page.run("return document.documentElement.scrollWidth <= innerWidth")
    head(page)
    readings(page)
    assert page.text("#done") == "24 of 24 readings"
    assert page.run("return document.querySelectorAll('.bad, .odd').length") == 0
    # what the page says is wrong is what a store says: 59.5 slipped, 0.234 in inches, 6.45 a turn of the thimble off
    page.type(cell(2, 0), "59.5")
    assert "will not be taken: far from the 6.000 mm of a new spline. Has the decimal slipped, for 5.95?" in page.text(
        "#why-2"
    )
    page.type(cell(2, 0), "0.2343")
    assert "Was it read in inches?" in page.text("#why-2")
    page.type(cell(2, 0), "6.45")
    assert "please look again: about one turn of the thimble (0.500 mm) from most of the others" in page.text("#why-2")
    page.type(cell(2, 0), "6.24")
    assert "please look again: 0.290 mm from most of the others; measure it again" in page.text("#why-2")
    page.type(cell(2, 0), "9.54")
    assert "will not be taken: are two figures in each other's place, for 5.94?" in page.text("#why-2")
    page.type(cell(2, 0), "38.42")
    assert "over 3 times the 6.000 mm of a new spline. It can only be a size over pins or wires" in page.text("#why-2")
    page.type(cell(2, 0), "5.45")
    assert "about one turn of the thimble (0.500 mm)" in page.text("#why-2")
    page.type(cell(2, 0), "5.49")
    assert "please look again: are two figures in each other's place, for 5.94?" in page.text("#why-2")
    # half typed it says nothing yet
    page.type(cell(2, 0), "5.9")
    assert page.text("#why-2") == ""
    page.press(ENTER)
    assert "write them all, noughts too" in page.text("#why-2")
    page.type(cell(2, 0), "five")
    assert "no number" in page.text("#why-2")
    assert page.text("#done") == "24 of 24 readings"
    assert page.text("#note") == "Spline 2, shoulder, five: no number; write only figures and one point or comma"
    # red, a cross, and words
    assert page.run("return getComputedStyle(document.querySelector('td.flag'), '::before').content") == '"\u00d7"'
    assert page.run("return document.querySelectorAll('#strip .wrong').length") == 1
    assert page.run("return document.querySelector('#strip').getAttribute('aria-label')").endswith(
        "a cross at: Spline 2, shoulder"
    )
    picture(page, f"measuring-{width}-flagged")
    page.type(cell(2, 0), "5.94")
    page.click("#save")
    saved = downloaded(folder, "*.csv")
    assert saved.name.startswith("measuring-D8-S77-")
    assert page.console() == []
    assert [url for url in page.requested() if not url.startswith(("file:", "blob:", "data:"))] == []

    added = wearstats("store", "add", saved, "--store", folder / "bench.duckdb", "--json")
    assert added.exit_code == 0, added.output
    files = {file["table"]: file for file in json.loads(added.stdout)["files"]}
    assert {name: file["accepted"] for name, file in files.items()} == {
        "gauges": 1,
        "shafts": 1,
        "inspections": 1,
        "readings": 24,
    }
    # the same sheet again, as pasted text: all of it is there already
    pasted = page.run("return document.querySelector('#text').value")
    again = wearstats("store", "add", "-", "--store", folder / "bench.duckdb", "--json", stdin=pasted)
    assert again.exit_code == 0, again.output
    assert sum(file["accepted"] for file in json.loads(again.stdout)["files"]) == 0
    with open_store(folder / "bench.duckdb") as store:
        held = "select hours, spline_1_marked, check_piece_mm, check_reading, condition from inspections "
        expected_row = (1200.0, True, 6.0, "6.01", ["bruised", "twisted"])
        assert store.rows(held + "where shaft = 'S77'") == [expected_row]
        total = "select count(*), sum(width_tenth_um) from readings where inspection like 'S77 %'"
        expected = sum(round(float(text.replace(",", ".")) * 10_000) for text in WIDTHS) * STATIONS
        assert store.rows(total) == [(24, expected)]
    advised = wearstats("shaft", "S77", "--store", folder / "bench.duckdb", "--json")
    assert advised.exit_code == 0, advised.output
    assert json.loads(advised.stdout)["advice"]["do"]


def test_a_check_piece_goes_along_and_comes_back_by_name(tmp_path: Path) -> None:
    store, pieces = make_store(tmp_path / "bench.duckdb"), tmp_path / "check_pieces.csv"
    pieces.write_text("piece,size_mm,size_u_um,checked_on\nCP-1,6.0123,0.5,2026-01-10\n", encoding="utf-8")
    assert wearstats("store", "add", pieces, "--store", store).exit_code == 0
    asked = ("--shaft", "S1", "--check-piece", "CP-1", "--out", tmp_path, "--store", store)
    assert wearstats("sheet", "measuring", *asked).exit_code == 0
    with browser(folder=tmp_path, width=360) as page:
        page.open(tmp_path / "measuring-D8-S1.html")
        assert page.run("return document.querySelector('#shaft').value") == "S1"
        head(page)
        page.type("#shaft", "S1")
        readings(page)
        picture(page, "measuring-check-piece")
        page.click("#save")
        saved = downloaded(tmp_path, "*.csv")
        assert page.console() == []
    added = wearstats("store", "add", saved, "--store", store, "--json")
    assert added.exit_code == 0, added.output
    with open_store(store) as opened:
        (row,) = opened.rows(
            "select piece, check_piece_mm, check_reading from inspections where measured_by = 'owner 9'"
        )
    assert row == ("CP-1", pytest.approx(6.0123), "6.01")


def test_a_crack_stops_at_once_and_nothing_is_ticked_from_the_start(shown: tuple[Browser, Path, int]) -> None:
    page, folder, width = shown
    assert page.run("return document.querySelectorAll('#condition :checked').length") == 0
    assert "condition" not in page.run("return document.querySelector('#text').value")
    page.click("[value=sound]")
    assert page.text("#why-condition") == ""
    page.click("[value=cracked]")
    assert page.text("#why-condition") == "stop: do not run it, and tell the workshop before anything else"
    picture(page, f"measuring-{width}-cracked")
    page.click("[value=cracked]")
    page.click("[value=bruised]")
    assert page.text("#why-condition").startswith("please look again: sound, and yet something else")
    assert "condition: sound and bruised\n" in page.run("return document.querySelector('#text').value")
    page.open(folder / "measuring-D8.html")
    assert page.run("return [...document.querySelectorAll('#condition :checked')].map((tick) => tick.value)") == [
        "sound",
        "bruised",
    ]


def test_the_page_refuses_what_the_store_refuses(tmp_path: Path) -> None:
    texts = [
        "59.8",
        "0.2343",
        "234.3",
        "5.10",
        "5.09",
        "6.90",
        "6.91",
        "5 98",
        "5,98",
        "1/2",
        "5.98mm",
        "5.98in",
        ".98",
    ]
    texts += [
        "38.42",
        "5\u00a0.\u202f98",
        "5.98\u2032",
        "-5.98",
        "5.9.8",
        "5e0",
        "0",
        "5.9800",
        "\u0665.98",
        "1,000",
        "5.97 MM",
    ]
    store = make_store(tmp_path / "bench.duckdb")
    assert wearstats("sheet", "measuring", "--out", tmp_path, "--store", store).exit_code == 0
    with browser(folder=tmp_path, width=1000) as page:
        page.open(tmp_path / "measuring-D8.html")
        head(page)
        refused = page.run(
            "const cells = [...document.querySelectorAll('[data-spline]')];"
            "cells.forEach((cell, n) => { cell.value = arguments[0][n]; });"
            "cells[0].dispatchEvent(new Event('input', {bubbles: true}));"
            "return cells.filter((cell) => cell.classList.contains('bad')).map((cell) => cell.name);",
            texts,
        )
        pasted = page.run("return document.querySelector('#text').value")
    wearstats("store", "add", "-", "--store", store, stdin=pasted)
    with open_store(store) as opened:
        kept = opened.rows("select spline, station from readings where inspection like 'S77 %'")
    stations = ("shoulder", "middle", "nut-end")
    taken = {f"{spline} {stations.index(station)}" for spline, station in kept}
    places = {f"{at // STATIONS + 1} {at % STATIONS}": text for at, text in enumerate(texts)}
    assert {text for place, text in places.items() if place not in taken} == {places[name] for name in refused}


def test_what_is_missing_is_named_and_the_draft_is_kept(shown: tuple[Browser, Path, int]) -> None:
    page, folder, width = shown
    page.click("#save")
    assert page.text("#told") == (
        "Nothing is filled in yet, so there is nothing to save. "
        "Still needed: Number of the shaft; Who measured; Measured with; It reads in"
    )
    assert in_view(page, "#told")
    picture(page, f"measuring-{width}-empty-saved")
    page.type(cell(1, 0), "5.98")
    page.click("#save")
    assert page.text("#told") == "Still needed: Number of the shaft; Who measured; Measured with; It reads in"
    assert in_view(page, "#told")
    page.click("#ways button")
    assert page.run("return document.activeElement.id") == "shaft"
    assert not list(folder.glob("*.csv"))
    page.click("[name=reads][value='mm 0.01']")
    page.click("[value=bruised]")
    # what one page put by, a busy browser gives the next a little later; a sheet that is only looked at writes nothing
    for _ in range(40):
        page.open(folder / "measuring-D8.html")
        if page.text("#done") == "1 of 24 readings":
            break
        time.sleep(0.25)
    assert page.run(f'return document.querySelector("{cell(1, 0)}").value') == "5.98"
    ticked = "return [...document.querySelectorAll(':checked')].map(input => input.value)"
    assert page.run(ticked) == ["mm 0.01", "bruised", "home"]
    # read once, and folded from then on
    assert page.run("return document.querySelector('#how').open") is False
    page.click("#fresh")
    page.accept()
    assert page.text("#done") == "0 of 24 readings"
    assert page.run(ticked) == ["home"]
    picture(page, f"measuring-{width}-empty")


def test_a_browser_that_was_closed_has_the_sheet_still(tmp_path: Path) -> None:
    store = make_store(tmp_path / "bench.duckdb")
    assert wearstats("sheet", "measuring", "--out", tmp_path, "--store", store).exit_code == 0
    for begun in (False, True):
        with browser(folder=tmp_path, width=390) as page:
            page.open(tmp_path / "measuring-D8.html")
            if begun:
                page.wait_for("#done", "3 of 24 readings")
                assert values(page)[:4] == ["5.97", "5.96", "5.98", ""]
                assert page.run("return document.querySelector('[name=kind]:checked').value") == "caliper"
                return
            page.click("[name=kind][value=caliper]")
            page.click("[name=reads][value='mm 0.01']")
            page.click(cell(1, 0))
            page.press("979698")


def in_view(page: Browser, query: str) -> bool:
    script = "const box = document.querySelector(arguments[0]).getBoundingClientRect();"
    return bool(page.run(script + "return box.top >= 0 && box.bottom <= innerHeight && box.height > 0", query))


def test_what_will_not_be_taken_is_named_and_asked_about(shown: tuple[Browser, Path, int]) -> None:
    page, folder, width = shown
    head(page)
    readings(page)
    page.type(cell(2, 0), "59.5")
    page.type(cell(4, 2), "six")
    page.click("#save")
    assert page.text("#told") == (
        "The workshop's program will not take 2 of the entries, and would leave them out: "
        "Spline 2, shoulder, 59.5; Spline 4, nut end, six. Look again, or save it like this?"
    )
    assert in_view(page, "#told")
    assert not list(folder.glob("*.csv"))
    picture(page, f"measuring-{width}-asked")
    assert page.run("return [...document.querySelectorAll('#ways button')].map(one => one.textContent)") == [
        "Go to: Spline 2, shoulder",
        "Save it like this",
    ]
    page.click("#ways button")
    assert page.run("return document.activeElement.name") == "2 0"
    page.type(cell(2, 0), "5.95")
    page.click("#save")
    page.click("#ways button:last-child")
    saved = downloaded(folder, "*.csv")
    added = wearstats("store", "add", saved, "--store", folder / "bench.duckdb", "--json")
    counts = {file["table"]: file for file in json.loads(added.stdout)["files"]}["readings"]
    assert (counts["accepted"], counts["rejected"]) == (23, 1)


def test_one_wrong_unit_for_the_whole_sheet_is_one_message(shown: tuple[Browser, Path, int]) -> None:
    page, folder, width = shown
    head(page)
    page.click("[name=reads][value='mm 0.001']")
    block = "\n".join(" ".join(f"0.23{40 + (3 * n + at) % 9}" for at in range(3)) for n in range(8))
    page.paste(cell(1, 0), block)
    said = page.run(
        "return [...document.querySelectorAll('table .why, #note')].map(one => one.textContent).filter(Boolean)"
    )
    assert said == [
        "24 of 24 readings, as 0.2340, are no size in millimetres, but would be in inches. "
        "Was the whole sheet read in inches?"
    ]
    picture(page, f"measuring-{width}-unit")
    page.click("#mend")
    assert page.text("#note") == ""
    assert page.run("return document.querySelectorAll('td.flag').length") == 0
    page.type("#check_reading", "0.2363")
    page.click("#save")
    added = wearstats("store", "add", downloaded(folder, "*.csv"), "--store", folder / "bench.duckdb")
    assert added.exit_code == 0, added.output
    with open_store(folder / "bench.duckdb") as store:
        assert store.rows("select count(*) from readings where inspection like 'S77 %'") == [(24,)]
        assert store.rows("select unit from inspections where shaft = 'S77'") == [("in",)]


def test_where_no_draft_can_be_kept_the_page_says_so_and_works(shown: tuple[Browser, Path, int]) -> None:
    page, folder, _ = shown
    page.before_each_page("Object.defineProperty(window, 'localStorage', {get() { throw new Error('blocked'); }});")
    page.open(folder / "measuring-D8.html")
    head(page, reads="in 0.001")
    page.type(cell(1, 0), ".234")
    page.type(cell(1, 1), "0,235")
    assert page.text("#draft") == "This browser keeps no draft: save before you close the page."
    page.click("#copy")
    assert "leave them out: Your reading of the check piece, 6,01." in page.text("#told")
    page.click("#ways button:last-child")
    page.wait_for("#told", "Copied", "Mark all")
    text = page.run("return document.querySelector('#text').value")
    # the check piece was read in inches too
    assert "check_reading: 6.01\n" in text
    assert "will not be taken" in page.text("#why-check_reading")
    page.type("#check_reading", "0.236")
    text = page.run("return document.querySelector('#text').value")
    added = wearstats("store", "add", "-", "--store", folder / "bench.duckdb", stdin=text)
    assert added.exit_code == 0, added.output
    with open_store(folder / "bench.duckdb") as store:
        widths = store.rows("select width_tenth_um from readings where inspection like 'S77 %' order by station")
        assert widths == [(59690,), (59436,)]
    assert page.console() == []
