"""Past quarters by this rule and by last year's habit, from the store, as known then."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Any

import pytest

from tests.studies.stock.test_production import even_orders
from tests.studies.support.stock_store import COSTS_HEAD, cost_rows, make_stock_store
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.backtest import HABIT, THIS_RULE, StockBacktest, study_stock_backtest
from wearstats.studies.stock.remarks import StockStudyRemark

AS_OF = datetime.date(2025, 12, 31)
OFFERED = "pattern,undersize_um,from_on\nP10,0,2023-01-01\nP10,25,2023-01-01\nP10,50,2023-01-01\n"
COUNTS = "pattern,undersize_um,counted_on,on_hand\nP10,0,2023-12-31,6\nP10,25,2023-12-31,4\nP10,50,2023-12-31,2\n"


def tables(**changes: str) -> dict[str, str]:
    costs = COSTS_HEAD + cost_rows(from_on="2023-01-01")
    return {**even_orders(), "costs": costs, "undersizes_offered": OFFERED, "stock_counts": COUNTS, **changes}


def ask(folder: Path, files: dict[str, str], as_of: datetime.date = AS_OF, **options: Any) -> StockBacktest:
    with open_store(make_stock_store(folder / "shop.duckdb", files)) as store:
        return study_stock_backtest(Snapshot(store=store, known_on=as_of), "P10", **options)


def test_quarters_start_a_year_after_the_first_order_and_meet_what_was_really_needed(tmp_path: Path) -> None:
    found = ask(tmp_path, tables())
    assert found.quarters == tuple(f"{year}Q{quarter}" for year in (2024, 2025) for quarter in (1, 2, 3, 4))
    assert found.undersizes_um == (0.0, 25.0, 50.0)
    assert found.habit.code == StockStudyRemark.HABIT_SENT
    habit = found.runs[HABIT]
    assert found.runs[THIS_RULE].needed.sum(axis=1).tolist() == [12] * 8
    assert habit.needed[0].tolist() == [6, 4, 2]
    assert habit.start[0].tolist() == [6, 4, 2]
    # habit makes what was sent a year before: the same every quarter, so that nothing is ever short
    assert habit.made[0].tolist() == [6, 4, 2]
    assert habit.lacking.sum() == 0
    json.dumps(plain(found), allow_nan=False)


def test_quarters_of_which_nothing_is_on_record_are_not_run_through(tmp_path: Path) -> None:
    found = ask(tmp_path, tables(), as_of=datetime.date(2026, 11, 30))
    assert found.quarters[-1] == "2025Q3"
    assert found.runs[HABIT].needed.sum(axis=1).min() == 12


def test_this_rule_costs_less_than_a_set_up_of_every_size_every_quarter(tmp_path: Path) -> None:
    found = ask(tmp_path, tables())
    assert found.runs[THIS_RULE].fill_rate > 0.9
    assert found.runs[THIS_RULE].cost.sum() < found.runs[HABIT].cost.sum()
    assert found.cost_difference.value is not None
    assert found.cost_difference.value < 0


def test_what_came_later_does_not_change_what_was_decided(tmp_path: Path) -> None:
    found = ask(tmp_path, tables()).runs[THIS_RULE]
    other = tmp_path / "other"
    other.mkdir()
    surge = "".join(f"Z{k},2025-11-{k % 28 + 1:02d},P10,no-size\n" for k in range(60))
    files = tables()
    again = ask(other, {**files, "orders": files["orders"] + surge}).runs[THIS_RULE]
    # what was made in the last quarter, too, was decided at its beginning
    assert found.made.tolist() == again.made.tolist()
    assert again.needed[-1].sum() == 72


def test_habit_is_what_was_made_where_batches_are_known(tmp_path: Path) -> None:
    batches = "batch,pattern,undersize_um,made_on,quantity\nB1,P10,0,2023-02-10,7\nB2,P10,25,2024-05-10,5\n"
    found = ask(tmp_path, tables(batches=batches))
    made = found.runs[HABIT].made
    assert found.habit.code == StockStudyRemark.HABIT_MADE
    assert made[0].tolist() == [7.0, 0.0, 0.0]
    assert made[5].tolist() == [0.0, 5.0, 0.0]
    assert made.sum() == 12.0


def test_sizes_given_up_are_made_no_more(tmp_path: Path) -> None:
    offered = (
        "pattern,undersize_um,from_on,to_on\nP10,0,2023-01-01,\nP10,25,2023-01-01,2024-06-15\nP10,50,2023-01-01,\n"
    )
    found = ask(tmp_path, tables(undersizes_offered=offered), filing_cost_um=0.5)
    assert found.runs[THIS_RULE].made[2:, 1].sum() == 0
    assert found.runs[HABIT].made[2:, 1].sum() == 0
    assert found.runs[THIS_RULE].filed.sum() > 0


def test_too_short_a_record_and_sizes_never_offered_are_refused(tmp_path: Path) -> None:
    with pytest.raises(AnalysisError, match="less than a year and a quarter"):
        ask(tmp_path, tables(), datetime.date(2024, 2, 1))
    other = tmp_path / "other"
    other.mkdir()
    files = {name: text for name, text in tables().items() if name != "undersizes_offered"}
    with pytest.raises(AnalysisError, match="no size was on offer"):
        ask(other, files)
