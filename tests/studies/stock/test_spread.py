"""How hubs of one nominal size come off the machine, from plug gauges, from gauged hubs, and where neither is known."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

from tests.studies.support.stock_store import make_stock_store
from wearstats.analysis.gaps.posterior import ASSUMED_SPACE_SD_UM
from wearstats.domain.pattern import Pattern
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.spread import MadeSpread, SpreadFrom, made_spread, plug_spread

P10 = Pattern(pattern="P10", splines=10, width_mm=4.41, space_width_mm=4.43, minor_mm=26, major_mm=31.75, engaged_mm=30)
BATCHES = "batch,pattern,undersize_um,made_on,quantity,go_mm,no_go_mm\n"
HUBS = "hub,pattern,undersize_um,space_width_mm,space_u_um\n"


def ask(folder: Path, **tables: str) -> MadeSpread:
    with open_store(make_stock_store(folder / "shop.duckdb", tables)) as store:
        return made_spread(Snapshot(store=store, known_on=datetime.date(2025, 12, 31)), P10)


def test_one_batch_spreads_over_its_gauges(tmp_path: Path) -> None:
    # 0.025 under 4.43 is 4.405: the gauges lie about that, 12 um apart
    found = ask(tmp_path, batches=f"{BATCHES}B1,P10,25,2025-01-10,6,4.399,4.411\n")
    assert found.taken_from is SpreadFrom.PLUGS
    assert found.number == 1
    assert found.width_um == pytest.approx(12.0)
    assert found.off_um == pytest.approx(0.0, abs=1e-6)


def test_batches_that_lie_apart_spread_farther_and_lie_off_nominal() -> None:
    # even over 10 um and over 20, in the middle 2 and 6 um wide: variances 100/12, 400/12, between them 8
    go, no_go = np.array([-3.0, -4.0]), np.array([7.0, 16.0])
    found = plug_spread(go, no_go, np.zeros(2), gauged_sd_um=2.0)
    assert found.off_um == pytest.approx(4.0)
    assert found.sd_um**2 == pytest.approx(250.0 / 12.0 + 8.0)
    drawn = np.random.default_rng(1)
    # drawn: a batch that lies as these two do, a hub between its gauges
    middle = drawn.normal(4.0, np.sqrt(8.0), 400_000)
    width = drawn.choice([10.0, 20.0], 400_000)
    assert (middle + width * drawn.uniform(-0.5, 0.5, 400_000)).std() == pytest.approx(found.sd_um, rel=0.01)


def test_without_plug_gauges_gauged_hubs_tell(tmp_path: Path) -> None:
    off = (-4, -2, 0, 2, 4, 6)
    rows = "".join(f"H{k},P10,25,{4.405 + um / 1000:.3f},1.5\n" for k, um in enumerate(off))
    found = ask(
        tmp_path, hubs=HUBS + rows, batches="batch,pattern,undersize_um,made_on,quantity\nB1,P10,25,2025-01-10,6\n"
    )
    assert (found.taken_from, found.number, found.gauged_sd_um) == (SpreadFrom.HUBS, 6, 1.5)
    assert found.off_um == pytest.approx(1.0)
    assert found.sd_um == pytest.approx(np.std(off, ddof=1))


def test_where_neither_is_on_record_it_is_a_stated_guess(tmp_path: Path) -> None:
    found = ask(tmp_path, hubs=f"{HUBS}H1,P10,25,4.406,\n")
    assert (found.taken_from, found.number, found.sd_um) == (SpreadFrom.GUESS, 0, ASSUMED_SPACE_SD_UM)
