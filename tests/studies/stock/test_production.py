"""What to make now: from the store's tables to a number for every size, and refusals that say what is missing."""

from __future__ import annotations

import datetime
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.stock_store import AMOUNTS, COSTS_HEAD, PATTERN, cost_rows, make_stock_store
from wearstats.errors import AnalysisError, InputError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.frames import in_words
from wearstats.report.remarks.say import say
from wearstats.report.stock.production_table import make_now_table
from wearstats.report.stock.sentences import make_now_sentences
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.production import MakeNow, study_make_now
from wearstats.studies.stock.records import Needs, read_making, read_needs
from wearstats.studies.stock.remarks import MakeRemark

AS_OF = datetime.date(2025, 12, 31)
SIZES, SHARES = (0.0, 25.0, 50.0), np.array([0.5, 0.3, 0.15])


def even_orders(a_quarter: int = 12, *, quarters: int = 12, lost: int = 0) -> dict[str, str]:
    """Orders, hubs and dispatches of a shop that sends as many every quarter, the last `lost` of each lost."""
    orders, hubs, sent = ["order,ordered_on,pattern,outcome"], ["hub,pattern,undersize_um"], ["hub,sent_on,order"]
    for quarter in range(quarters):
        start = pd.Timestamp("2023-01-01") + pd.DateOffset(months=3 * quarter)
        for k in range(a_quarter):
            name, day = f"{quarter:02d}-{k:02d}", (start + pd.Timedelta(days=int(90 * (k + 0.5) / a_quarter))).date()
            kept = k < a_quarter - lost
            orders.append(f"R{name},{day},P10,{'sent' if kept else 'no-size'}")
            if kept:
                hubs.append(f"H{name},P10,{(0, 0, 25, 0, 25, 50)[k % 6]}")
                sent.append(f"H{name},{day},R{name}")
    tables = {"orders": orders, "hubs": hubs, "dispatches": sent}
    return {name: "\n".join(rows) + "\n" for name, rows in tables.items()}


def shop(**changes: str) -> dict[str, str]:
    """Tables of a shop with everything that the question needs."""
    counts = "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-12-31,4\nP10,25,2025-12-31,30\nP10,50,2025-12-31,2\n"
    return {**even_orders(), "costs": COSTS_HEAD + cost_rows(), "stock_counts": counts, **changes}


def ask(folder: Path, tables: Mapping[str, str], **options: Any) -> MakeNow:
    path = make_stock_store(folder / "shop.duckdb", {name: text for name, text in tables.items() if text})
    with open_store(path) as store:
        settings = {"sizes": SIZES, "shares": SHARES, **options}
        return study_make_now(Snapshot(store=store, known_on=settings.pop("as_of", AS_OF)), "P10", **settings)


def needs_of(folder: Path, tables: Mapping[str, str], as_of: datetime.date = AS_OF) -> Needs:
    with open_store(make_stock_store(folder / "shop.duckdb", tables)) as store:
        return read_needs(Snapshot(store=store, known_on=as_of), "P10")


def test_what_runs_low_is_made_and_what_lies_there_is_not(tmp_path: Path) -> None:
    found = ask(tmp_path, shop())
    assert list(found.make) == [0.0, 25.0, 50.0]
    assert found.make[0.0] >= 3
    assert found.make[25.0] == 0
    first, second, _ = found.rows
    # 12 a quarter, half of them of the first size: 30 days of lead time of 91.3
    assert first.lead_demand.value == pytest.approx(12 * 0.5 * 30 / 91.3125, rel=0.15)
    assert first.cover_demand.value == pytest.approx(12 * 0.5 * (30 + 91.3125) / 91.3125, rel=0.12)
    assert first.lead_demand.level == 0.9
    assert second.covers_until > first.covers_until
    assert found.covers_until == min(row.covers_until for row in found.rows)
    assert found.unserved_share == pytest.approx(0.05)
    assert found.check.fill_rate.value is not None
    assert found.check.fill_rate.value > 0.9
    assert found.check.spared.value is not None
    assert found.check.spared.value > 0
    assert "4 on hand" in say(first.why)
    assert str(first.covers_until) in say(first.why)
    assert first.sent_last_year == 24


def test_filing_costs_apply_one_way_only(tmp_path: Path) -> None:
    counts = "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-12-31,0\nP10,25,2025-12-31,0\nP10,50,2025-12-31,30\n"
    free = np.zeros((3, 3))
    tighter_lie_there = ask(tmp_path, shop(stock_counts=counts), filing_cost=free)
    # they serve the looser needs for nothing, so that less is made
    apart = tmp_path / "apart"
    apart.mkdir()
    assert sum(tighter_lie_there.make.values()) < sum(ask(apart, shop(stock_counts=counts)).make.values())
    looser = tmp_path / "looser"
    looser.mkdir()
    counts = "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-12-31,90\nP10,25,2025-12-31,0\nP10,50,2025-12-31,0\n"
    looser_lie_there = ask(looser, shop(stock_counts=counts), filing_cost=free)
    assert looser_lie_there.make[0.0] == 0
    assert looser_lie_there.make[25.0] + looser_lie_there.make[50.0] > 0


def test_a_size_that_tighter_hubs_serve_lasts_as_long_as_these_and_says_so(tmp_path: Path) -> None:
    counts = "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-12-31,0\nP10,25,2025-12-31,0\nP10,50,2025-12-31,60\n"
    found = ask(tmp_path, shop(stock_counts=counts), filing_cost=np.zeros((3, 3)))
    first, second, third = found.rows
    assert (first.make, second.make) == (0, 0)
    assert first.short_chance < 0.1
    # of its own there is none, but tighter ones lie there for well over a quarter
    assert first.own_until < AS_OF + datetime.timedelta(days=14)
    assert min(first.covers_until, third.covers_until) > AS_OF + datetime.timedelta(days=180)
    assert third.covers_until < third.own_until
    assert found.covers_until == min(row.covers_until for row in found.rows)
    assert found.from_tighter_um == (0.0, 25.0)
    assert f"tighter hubs, filed out, serve it until {first.covers_until}" in say(first.why)
    text = " ".join(make_now_sentences(found))
    assert "Of 0.00 mm and 0.025 mm none lies there and none is made" in text
    assert "tighter hubs filed out, a need of a size kept first goes unserved" in text
    table = make_now_table(found)
    assert table.head[-1] == "lasts until, tighter ones filed out"
    assert [row[0].partition("), ")[2] for row in table.rows] == ["served by tighter ones"] * 2 + [""]


def test_where_no_hub_is_filed_out_a_size_lasts_as_long_as_its_own(tmp_path: Path) -> None:
    found = ask(tmp_path, shop())
    assert all(row.own_until == row.covers_until for row in found.rows)
    assert not found.from_tighter_um
    assert "filed out" not in " ".join(make_now_sentences(found))
    assert make_now_table(found).head[-1] == "lasts until"


def test_the_order_of_sizes_does_not_matter(tmp_path: Path) -> None:
    cost = np.array([[0.0, 20.0, 40.0], [np.inf, 0.0, 20.0], [np.inf, np.inf, 0.0]])
    found = ask(tmp_path, shop(), filing_cost=cost)
    other = tmp_path / "other"
    other.mkdir()
    turned = [2, 0, 1]
    again = ask(
        other,
        shop(),
        sizes=[SIZES[k] for k in turned],
        shares=SHARES[turned],
        filing_cost=cost[np.ix_(turned, turned)],
    )
    assert found.make_frame().equals(again.make_frame())


def test_sizes_no_longer_kept_are_used_up_not_made(tmp_path: Path) -> None:
    found = ask(
        tmp_path, shop(), sizes=(0.0, 50.0), shares=np.array([0.5, 0.45]), filing_cost=np.array([[0, 9], [9, 0]])
    )
    gone = found.rows[1]
    assert (gone.undersize_um, gone.kept, gone.make, gone.on_hand) == (25.0, False, 0, 30)
    assert gone.why.code == MakeRemark.NO_LONGER_KEPT
    assert 25.0 not in found.make


def test_lost_orders_count_as_needs_and_those_without_interest_do_not(tmp_path: Path) -> None:
    tables = even_orders(12, quarters=2, lost=3)
    extra = "".join(
        f"X{k},2023-02-0{k + 1},P10,{word}\n" for k, word in enumerate(("declined", "went-silent", "cancelled"))
    )
    extra += "X8,2023-02-08,P10,\nX9,2023-02-09,P10,special\n"
    needs = needs_of(tmp_path, {**tables, "orders": tables["orders"] + extra}, datetime.date(2023, 6, 30))
    assert needs.by_quarter()["needed"].tolist() == [14, 12]
    assert needs.by_quarter()["lost"].tolist() == [4, 3]
    assert (needs.hubs, needs.lost, needs.open) == (26, 7, 1)


def test_two_hubs_kept_of_an_order_are_two_needs_and_one_sent_back_to_the_shelf_is_none(tmp_path: Path) -> None:
    tables = {
        "orders": "order,ordered_on,pattern,outcome\n" + "".join(f"R{k},2025-01-1{k},P10,sent\n" for k in (1, 2, 3)),
        "hubs": "hub,pattern,undersize_um\n" + "".join(f"H{k},P10,{u}\n" for k, u in enumerate((0, 25, 0, 25, 50, 0))),
        # R1 keeps one of two sizes; R2 keeps both; R3 sends its only one back; H5 belongs to no order
        "dispatches": "hub,sent_on,order\nH0,2025-01-11,R1\nH1,2025-01-11,R1\nH2,2025-01-13,R2\nH3,2025-01-13,R2\n"
        "H4,2025-01-15,R3\nH5,2025-02-01,\n",
        "returns": "hub,returned_on,reason,back_on_shelf\n"
        "H1,2025-02-03,second-size-back,yes\nH4,2025-02-03,not-needed,yes\n",
    }
    needs = needs_of(tmp_path, tables)
    assert needs.hubs == 5
    assert needs.by_size(np.array([0.0, 25.0, 50.0])).tolist() == [3.0, 1.0, 1.0]


def test_stock_is_the_last_count_and_what_moved_since(tmp_path: Path) -> None:
    tables = {
        "stock_counts": "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-01-31,5\nP10,0,2025-03-31,9\n",
        "hubs": "hub,pattern,undersize_um\nH1,P10,0\nH2,P10,0\nH3,P10,25\n",
        "dispatches": "hub,sent_on\nH1,2025-03-30\nH2,2025-04-02\nH3,2025-04-02\n",
        "batches": "batch,pattern,undersize_um,made_on,quantity\nB1,P10,0,2025-04-10,6\nB2,P10,25,2025-01-10,4\n",
        "returns": "hub,returned_on,reason,back_on_shelf\nH2,2025-04-20,not-needed,yes\n",
    }
    with open_store(make_stock_store(tmp_path / "shop.duckdb", tables)) as store:
        at = {
            day: store.query("stock/on_hand", as_of=day, pattern="P10").set_index("undersize_um")["on_hand"].to_dict()
            for day in ("2025-02-15", "2025-04-01", "2025-04-15", "2025-04-30")
        }
    assert at["2025-02-15"] == {0.0: 5, 25.0: 4}
    assert at["2025-04-01"] == {0.0: 9, 25.0: 4}
    assert at["2025-04-15"] == {0.0: 14, 25.0: 3}
    assert at["2025-04-30"] == {0.0: 15, 25.0: 3}


def test_a_quarter_under_way_counts_by_the_part_of_it_that_has_passed(tmp_path: Path) -> None:
    quarters = needs_of(tmp_path, even_orders(12, quarters=3), datetime.date(2023, 8, 15)).by_quarter()
    assert quarters["quarter"].tolist() == ["2023Q1", "2023Q2", "2023Q3"]
    assert quarters["exposure"].tolist() == pytest.approx([1.0, 1.0, 46 / 92], abs=0.05)
    assert quarters["of_year"].iloc[2] == pytest.approx(0.56, abs=0.01)


def test_a_shop_that_had_its_first_order_yesterday_is_not_taken_for_a_busy_one(tmp_path: Path) -> None:
    orders = "order,ordered_on,pattern,outcome\nR1,2025-12-30,P10,no-size\n"
    found = ask(tmp_path, shop(orders=orders, hubs="", dispatches="", stock_counts=""))
    assert found.demand.level.value is not None
    assert found.demand.level.value < 4
    assert sum(found.make.values()) < 30


def test_large_stocks_and_a_large_demand_are_answered_in_proportion(tmp_path: Path) -> None:
    counts = "pattern,undersize_um,counted_on,on_hand\nP10,0,2025-12-31,5000\n"
    found = ask(tmp_path, shop(**even_orders(800), stock_counts=counts))
    assert found.make[0.0] == 0
    # 240 a quarter of the second size: what is made lasts for at least the stage and its lead time
    assert 240 * (1 + 30 / 91.3) - 80 < found.make[25.0] < 240 * 4


def test_a_missing_price_is_named(tmp_path: Path) -> None:
    amounts = {item: amount for item, amount in AMOUNTS.items() if item not in ("hub_held", "special")}
    with pytest.raises(AnalysisError, match=r"'hub_held' .*'special'"):
        ask(tmp_path, shop(costs=COSTS_HEAD + cost_rows(amounts)))


def test_without_orders_it_says_what_to_add(tmp_path: Path) -> None:
    with pytest.raises(AnalysisError, match=r"orders\.csv"):
        ask(tmp_path, shop(orders="", hubs="", dispatches=""))


def test_lead_time_and_batch_size_that_are_missing_are_named(tmp_path: Path) -> None:
    bare = PATTERN.replace(",lead_days,batch_size", "").replace(",30,6\n", "\n")
    with pytest.raises(AnalysisError, match="no lead_days and no batch_size"):
        ask(tmp_path, shop(patterns=bare))
    with open_store(tmp_path / "shop.duckdb") as store, pytest.raises(AnalysisError, match="known are P10"):
        read_making(Snapshot(store=store, known_on=AS_OF), "Q7")


@pytest.mark.parametrize("shares", [[0.5, 0.3], [0.9, 0.3, 0.2], [-0.1, 0.5, 0.2]])
def test_shares_that_are_none_are_refused(tmp_path: Path, shares: list[float]) -> None:
    with pytest.raises(InputError, match="shares of the sizes"):
        ask(tmp_path, shop(), shares=np.array(shares))


def test_the_table_goes_through_csv_and_xlsx_unchanged(tmp_path: Path) -> None:
    frame = in_words(ask(tmp_path, shop()).make_frame())
    text = frame.to_csv(index=False)
    pd.testing.assert_frame_equal(pd.read_csv(io.StringIO(text), keep_default_na=False), frame, check_dtype=False)
    frame.to_excel(tmp_path / "make.xlsx", index=False)
    pd.testing.assert_frame_equal(pd.read_excel(tmp_path / "make.xlsx"), frame, check_dtype=False)


def test_the_demo_is_answered_with_everything_the_document_promises(demo: Snapshot) -> None:
    found = study_make_now(
        demo,
        "D8",
        sizes=[0, 25, 50, 75, 100, 150],
        shares=np.array([0.42, 0.28, 0.14, 0.07, 0.05, 0.03]),
    )
    document = plain(found)
    json.dumps(document, allow_nan=False)
    assert set(document["make"]) == {"0", "25", "50", "75", "100", "150"}
    assert datetime.date.fromisoformat(document["covers_until"]) > demo.known_on
    quarters = found.history
    assert quarters["needed"].sum() == found.needed
    # the last quarters are about what is predicted for the coming one
    fan = found.fan
    assert fan["low95"].iloc[0] <= quarters["needed"].iloc[-4:].mean() <= fan["high95"].iloc[0]
    assert len(found.assumptions) >= 6
