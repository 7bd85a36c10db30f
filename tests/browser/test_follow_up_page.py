"""The follow-up page in a real browser: answered on a phone, saved, added to a store."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.browser.driver import PRESENT, browser, downloaded
from tests.browser.forms.hand import Hand
from tests.store.support.small_store import make_store
from wearstats.cli.main import app
from wearstats.store.database.connection import open_store

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]


def test_one_hub_of_two_is_answered_for(tmp_path: Path) -> None:
    store = make_store(tmp_path / "bench.duckdb")
    asked = ["sheet", "follow-up", "--fitting", "F2", "--fitting", "F1", "--out", str(tmp_path), "--store", str(store)]
    assert CliRunner().invoke(app, asked).exit_code == 0
    with browser(folder=tmp_path, width=360) as page:
        page.open(tmp_path / "follow-up-F2-and-1-more.html")
        assert page.run("return document.documentElement.scrollWidth <= innerWidth")
        assert page.text("#done") == "0 of 2 hubs answered"
        page.click("#save")
        assert page.text("#told") == "Nothing is filled in yet, so there is nothing to save."
        page.click("[name=state-1][value=loose]")
        assert page.text("#why-state-1").startswith("stop: do not start the engine")
        page.click("[name=how-1][value=rocked-by-hand]")
        page.click("[name=cause-1][value=flanks]")
        page.type("#hours-1", "2 150,5")
        page.type("#remark-1", 'red dust; "a knock"')
        assert page.text("#done") == "1 of 2 hubs answered"
        if os.environ.get("SHEET_PICTURES"):
            page.shoot(Path(os.environ["SHEET_PICTURES"]) / "follow-up-360.png")
        page.click("#save")
        saved = downloaded(tmp_path, "follow-up-*.csv")
        assert page.console() == []
        assert [url for url in page.requested() if not url.startswith(("file:", "blob:", "data:"))] == []
    added = CliRunner().invoke(app, ["store", "add", str(saved), "--store", str(store)])
    assert added.exit_code == 0, added.output
    with open_store(store) as opened:
        held = "select state, prompted, how, cause, hours from follow_ups where fitting = 'F2'"
        assert opened.rows(held) == [("loose", "asked", "rocked-by-hand", "flanks", 2150.5)]
        notes = dict(opened.rows("select column_name, value from notes where table_name = 'follow_ups'"))
        assert notes["remark"] == 'red dust; "a knock"'
        assert notes["form"].startswith("follow-up ")


# reading silently, Brysbaert, Journal of Memory and Language 109 (2019) 104047; pointing and making up one's mind by
# the keystroke-level model, Card, Moran and Newell, The Psychology of Human-Computer Interaction (1983); from memory
WORDS_A_MINUTE, POINTING_S, THINKING_S = 238, 1.1, 1.35


def test_a_tight_hub_is_answered_for_on_a_phone_in_under_a_minute(tmp_path: Path) -> None:
    store = make_store(tmp_path / "bench.duckdb")
    asked = ["sheet", "follow-up", "--fitting", "F1", "--out", str(tmp_path), "--store", str(store)]
    assert CliRunner().invoke(app, asked).exit_code == 0
    with browser(folder=tmp_path, width=390) as page:
        page.open(tmp_path / "follow-up-F1.html")
        hand = Hand(page)
        # all of the introduction and of the questions that are asked of a tight hub
        read = page.run(
            "return [...document.querySelectorAll('#how, [data-fitting] .tiles')]"
            ".filter(part => part.getClientRects().length).map(part => part.innerText).join(' ')"
        )
        for query in ("#begin", "[name=state-1][value=tight]", "[name=how-1][value=rocked-by-hand]", "#save"):
            hand.tap(query)
        saved = downloaded(tmp_path, "follow-up-*.csv")
    words = len(read.split())
    seconds = words / WORDS_A_MINUTE * 60 + hand.taps * (POINTING_S + THINKING_S)
    assert (hand.taps, hand.keys) == (4, 0)
    assert seconds < 60
    added = CliRunner().invoke(app, ["store", "add", str(saved), "--store", str(store)])
    assert added.exit_code == 0, added.output
    with open_store(store) as opened:
        held = "select state, how, cause from follow_ups where fitting = 'F1' and prompted = 'asked'"
        assert opened.rows(held) == [("tight", "rocked-by-hand", None)]
