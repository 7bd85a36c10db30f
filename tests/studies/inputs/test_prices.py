"""Prices: those in force and known on the day, the missing ones named, several currencies refused."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from tests.studies.support.stock_store import AMOUNTS, COSTS_HEAD, cost_rows, make_stock_store
from wearstats.domain.tables import COST_ITEMS
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.studies.inputs.prices import MEANING, Prices, prices_of
from wearstats.studies.snapshot import Snapshot


def read(path: Path, rows: str, as_of: datetime.date = datetime.date(2025, 6, 1)) -> Prices:
    made = make_stock_store(path / "shop.duckdb", {"costs": COSTS_HEAD + rows} if rows else {})
    with open_store(made) as store:
        return prices_of(Snapshot(store=store, known_on=as_of), "P10")


def test_every_item_that_may_be_written_down_has_its_place_and_its_meaning(tmp_path: Path) -> None:
    prices = read(tmp_path, cost_rows())
    assert {item: prices.amount(item) for item in COST_ITEMS} == AMOUNTS
    assert set(MEANING) == set(COST_ITEMS)
    assert prices.missing == ()
    assert prices.currency == "EUR"
    assert prices.need("return", "failure") == (30.0, 900.0)
    assert plain(prices)["items"]["postage"] == {"amount": 26.0, "from_on": "2024-01-01"}
    with pytest.raises(KeyError):
        prices.amount("currency")


@pytest.mark.parametrize(("day", "amount"), [("2023-12-31", None), ("2024-01-01", 50.0), ("2025-03-01", 55.0)])
def test_the_price_that_held_on_the_day_counts(tmp_path: Path, day: str, amount: float | None) -> None:
    rows = cost_rows() + "P10,hub_made,2025-03-01,55,EUR\n"
    assert read(tmp_path, rows, datetime.date.fromisoformat(day)).hub_made == amount


def test_what_is_missing_is_named_all_of_it_with_what_to_add(tmp_path: Path) -> None:
    prices = read(tmp_path, cost_rows({"hub_made": 50.0, "special": 0.0}))
    assert prices.need("hub_made", "special") == (50.0, 0.0)
    with pytest.raises(AnalysisError) as refused:
        prices.need("hub_made", "hub_held", "lost_sale")
    assert "'hub_held' (holding one hub, a year), 'lost_sale' (a sale lost)" in refused.value.why
    assert "hub_made" not in refused.value.why
    assert "costs.csv" in refused.value.needed
    assert len(prices.missing) == len(COST_ITEMS) - 2


def test_a_shop_without_prices_is_told_so_when_they_are_needed(tmp_path: Path) -> None:
    prices = read(tmp_path, "")
    assert prices.currency is None
    with pytest.raises(AnalysisError, match="'failure'"):
        prices.need("failure")


def test_several_currencies_are_refused_but_one_written_in_two_ways_is_not(tmp_path: Path) -> None:
    rest = {item: amount for item, amount in AMOUNTS.items() if item != "postage"}
    assert read(tmp_path, cost_rows(rest) + "P10,postage,2024-01-01,26,eur\n").currency == "EUR"
    folder = tmp_path / "two"
    folder.mkdir()
    with pytest.raises(AnalysisError, match=r"several currencies \(EUR: .*; GBP: postage\)"):
        read(folder, cost_rows(rest) + "P10,postage,2024-01-01,26,GBP\n")


def test_a_currency_given_up_since_does_not_count(tmp_path: Path) -> None:
    assert read(tmp_path, cost_rows(currency="NLG", from_on="2000-01-01") + cost_rows()).currency == "EUR"
