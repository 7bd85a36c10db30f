"""The page is the same whether one process asks and draws, or two."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

import wearstats.second_process
from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.report.overview import Drawing, picture_page
from wearstats.report.page.render import render_page
from wearstats.report.remarks.document import plain
from wearstats.second_process import second_process
from wearstats.store.database.connection import open_store
from wearstats.studies.overview import study_picture
from wearstats.studies.snapshot import Snapshot


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    shafts = {f"S{number:02}": splines(4.38 - 0.002 * number, 4.37, 4.39) for number in range(12)}
    return make_shop(tmp_path / "shop.duckdb", shafts, folder=tmp_path)


def test_two_processes_make_the_page_that_one_makes(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wearstats.second_process, "_cores", lambda: 2)
    with open_store(shop) as store:
        ask = partial(study_picture, horizon_months=12.0, risk_limit=0.05)
        alone = ask(Snapshot(store=store, known_on=AS_OF))
        with second_process() as second:
            drawing = Drawing(second)
            together = ask(Snapshot(store=store, known_on=AS_OF, second=second), told=drawing.told)
            page = render_page(picture_page(together, drawing))
    assert alone.unanswered == together.unanswered
    assert alone.wear is not None
    assert "loosening" in alone.unanswered
    assert plain(alone) == plain(together)
    assert page == render_page(picture_page(alone))
