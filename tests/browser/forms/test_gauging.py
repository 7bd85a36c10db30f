"""A hub is gauged on the page: few keys, an odd space is told, and the file goes into the store."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.driver import PRESENT, Browser, browser, downloaded
from tests.browser.forms.hand import Hand, cell, values
from tests.store.support.small_store import LATE, make_store
from wearstats.report.forms.form import GaugingForm
from wearstats.report.forms.gauging import gauging_pages
from wearstats.report.forms.wording import read_wording
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.forms import sheet_hubs
from wearstats.studies.snapshot import Snapshot

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

TEXTS = [f"5.9{um:02d}" for at in range(8) for um in (61 + at % 3, 57 + at % 2)]


@pytest.fixture
def page(tmp_path: Path) -> Iterator[tuple[Browser, Path]]:
    with open_store(make_store(tmp_path / "bench.duckdb")) as store:
        hubs = sheet_hubs(Snapshot(store=store, known_on=LATE), ["H2"], None)
    (text,) = gauging_pages(GaugingForm(hubs=hubs, wording=read_wording("en"))).values()
    (tmp_path / "gauging-H2.html").write_text(text, encoding="utf-8")
    with browser(folder=tmp_path, width=390) as opened:
        opened.open(tmp_path / "gauging-H2.html")
        yield opened, tmp_path


def test_sixteen_places_are_typed_saved_and_added(page: tuple[Browser, Path]) -> None:
    opened, folder = page
    hand = Hand(opened)
    hand.tap("#begin")
    hand.tap("[name=reads][value='mm 0.001']")
    hand.tap(cell(1, 0))
    for text in TEXTS:
        hand.read(text)
    assert values(opened) == TEXTS
    # the first space is typed whole but for the figure before the point, then two figures a place
    assert hand.keys < 3 * len(TEXTS)
    hand.tap("#save")
    today = datetime.date.today().isoformat()
    assert opened.text("#told").startswith(f"Saved as gauging-H2-{today}.csv. Add it to the store: wearstats store add")
    with open_store(folder / "bench.duckdb", write=True) as store:
        report = add_files(store, [downloaded(folder, "gauging-*.csv")], added_on=LATE)
        assert report.kept_out == 0, report.to_dict()
        assert store.value("select count(*) from hub_spaces where hub = 'H2'") == 16
    assert opened.console() == []


def test_a_space_that_stands_out_is_told_while_it_is_typed(page: tuple[Browser, Path]) -> None:
    opened, _ = page
    hand = Hand(opened)
    hand.tap("#begin")
    hand.tap("[name=reads][value='mm 0.001']")
    hand.tap(cell(1, 0))
    for text in [*TEXTS[:14], "5.930"]:
        hand.read(text)
    opened.press("\ue004")
    assert "most of the others" in opened.text("#why-8")
