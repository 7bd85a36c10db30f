"""One demand for sizes, money and what to make, as far as the records reach."""

import dataclasses
import datetime
from pathlib import Path

import pytest

from tests.estimate_ends import three
from tests.studies.stock.test_production import even_orders
from tests.studies.support.stock_store import make_stock_store
from wearstats.analysis.estimate import assumed
from wearstats.analysis.remark import remark
from wearstats.errors import AnalysisError
from wearstats.report.remarks.say import say
from wearstats.report.stock.sentences import stock_sentences
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.demand import StockDemand, demand_of
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.study import study_stock


def learn_demand(folder: Path, tables: dict[str, str], as_of: datetime.date) -> StockDemand:
    with open_store(make_stock_store(folder / "shop.duckdb", tables)) as store:
        return demand_of(Snapshot(store=store, known_on=as_of), "P10")


@pytest.fixture(scope="module")
def study(demo_stock_d8: StockStudy) -> StockStudy:
    return demo_stock_d8


def test_even_needs_make_the_coming_year(tmp_path: Path) -> None:
    demand = learn_demand(tmp_path, even_orders(12), datetime.date(2025, 12, 31))
    low, value, high = three(demand.next_year)
    assert value == pytest.approx(48, rel=0.1)
    assert low < 44 < 52 < high
    assert say(demand.rests_on()) == "144 needed from 2023-01-04 to 2025-12-31, lost sales and specials among them"
    assert not demand.nearly_unknown


def test_hubs_sent_without_an_order_are_needs_too(tmp_path: Path) -> None:
    tables = {name: text for name, text in even_orders(12).items() if name != "orders"}
    demand = learn_demand(tmp_path, tables, datetime.date(2025, 12, 31))
    assert three(demand.next_year)[1] == pytest.approx(48, rel=0.1)


def test_days_after_the_records_end_are_not_days_without_need(tmp_path: Path) -> None:
    demand = learn_demand(tmp_path, even_orders(12), datetime.date(2026, 11, 30))
    low, value, high = three(demand.next_year)
    assert value == pytest.approx(48, rel=0.1)
    assert low < 44 < 52 < high
    assert demand.rests_on().code == StockStudyRemark.NEEDED_ON_RECORD
    assert "to 2025-12-" in say(demand.rests_on())


def test_sizes_money_and_what_to_make_rest_on_the_same_year(study: StockStudy) -> None:
    part = study.by_pattern["D8"]
    assert part.make is not None
    assert part.make.next_year == part.year
    _, year, _ = three(part.year)
    chosen = part.choice.chosen
    keeping = part.keeping * len(chosen.undersizes_um)
    assert three(chosen.cost_a_year)[1] == pytest.approx(year * three(chosen.cost_a_shaft)[1] + keeping)
    text = " ".join(stock_sentences(study))
    assert f"a year of {year:.0f} hubs then costs" in text
    assert f"The coming year will ask for about {year:.0f} hubs of pattern D8 (between" in text


def test_a_year_that_nothing_tells_is_said_to_be_assumed(study: StockStudy) -> None:
    year = assumed(7.0, why=remark(StockStudyRemark.AS_MANY_AS_SHAFTS))
    part = dataclasses.replace(study.by_pattern["D8"], year=year, year_from=None)
    text = " ".join(stock_sentences(dataclasses.replace(study, by_pattern={"D8": part})))
    assert "A year is taken to ask for 7 hubs of pattern D8, as many hubs as shafts were ever measured" in text


def test_the_rule_for_the_number_of_sizes_is_told(study: StockStudy) -> None:
    text = " ".join(stock_sentences(study))
    assert "Kept are the fewest sizes from which one more saves less than 3 in 100 of what today's cost" in text


def test_of_a_few_weeks_the_demand_is_nearly_unknown_and_nothing_is_said_to_be_made(demo: Snapshot) -> None:
    day = datetime.date(2023, 12, 31)
    early = study_stock(demo.at(day, models_from=day).of("D8"))
    part = early.by_pattern["D8"]
    assert part.make is None
    assert part.year_nearly_unknown
    text = " ".join(stock_sentences(early))
    low, year, high = three(part.year)
    assert f"is nearly unknown, and so is how many sizes pay: about {year:.0f} hubs" in text
    assert f"(between {low:.0f} and {high:.0f}, 90 % sure)" in text
    assert "How many to make cannot be told: only 3.0 months of what was needed are on record" in text


def test_nothing_needed_is_told(tmp_path: Path) -> None:
    with pytest.raises(AnalysisError, match="no order is on record"):
        learn_demand(tmp_path, {}, datetime.date(2025, 12, 31))
