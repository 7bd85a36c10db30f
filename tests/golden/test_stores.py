"""The stores are what they are said to be, and every one is asked about everything."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.golden.odd_rows import SINGLE
from tests.golden.questions import questions
from tests.golden.running import make_store
from tests.golden.stores import STORES, GoldenStore
from tests.golden.tables import Tables
from wearstats.cli.main import app

TOP = Path(__file__).resolve().parents[2]
BY_NAME = {store.name: store for store in STORES}


@pytest.fixture(scope="module")
def tables() -> dict[str, Tables]:
    return {store.name: store.tables(TOP) for store in STORES}


def test_what_is_left_out_is_left_out(tables: dict[str, Tables]) -> None:
    assert {row["pattern"] for row in tables["no-costs"]["costs"]} == {"D8"}
    assert {"follow_ups", "returns"} == set(tables["demo"]) - set(tables["no-outcomes"])
    assert tables["sampled"] == tables["demo"]


def test_the_odd_one_is_small_and_odd(tables: dict[str, Tables]) -> None:
    odd = tables["odd"]
    assert 20 <= len(odd["shafts"]) <= 30
    assert sum(row["pattern"] == SINGLE for row in odd["shafts"]) == 1
    measured = {row["shaft"] for row in odd["inspections"]}
    assert {row["shaft"] for row in odd["shafts"]} - measured == {"X01"}
    on = {(row["hub"], row["shaft"]) for row in odd["fittings"]}
    assert len(on) > len({hub for hub, _ in on})
    for table, column in (("fittings", "fitted_on"), ("shafts", "duty"), ("shafts", "region")):
        assert any(row[column] == "" for row in odd[table])
    assert tables["odd"] == BY_NAME["odd"].tables(TOP)


@pytest.mark.parametrize("store", STORES, ids=lambda store: store.name)
def test_everything_is_asked_once(store: GoldenStore, tables: dict[str, Tables]) -> None:
    whole, quick = (questions(store, tables[store.name], quick=quick) for quick in (False, True))
    assert len({each.name for each in whole}) == len(whole)
    assert {each.name for each in quick} <= {each.name for each in whole}
    days = {
        (day, seed) for day in store.days for seed in (1, 7) if seed == 1 or store.thorough or day == store.days[-1]
    }
    assert {(each.as_of, each.seed) for each in whole} == days
    assert {each.pattern for each in whole} == {"all", *store.patterns}
    assert set(store.shafts) <= {each.shaft for each in whole}
    assert {each.pattern for each in whole if each.out and each.text} == {"all", *store.patterns}
    assert [each.name for each in quick if each.out] == [f"report as text/all/{store.days[-1]}/1"]


def test_the_odd_one_is_made_and_found_odd(tmp_path: Path, tables: dict[str, Tables]) -> None:
    path = tmp_path / "made" / "odd.duckdb"
    make_store(TOP, BY_NAME["odd"], tables["odd"], path)
    asked = ["store", "info", "--json", "--store", str(path), "--as-of", "2026-12-31"]
    told = json.loads(CliRunner().invoke(app, asked).stdout)
    assert told["tables"]["shafts"] == len(tables["odd"]["shafts"])
    assert told["rejects_open"] == 1
    checked = CliRunner().invoke(app, ["store", "check", *asked[2:]])
    assert checked.exit_code == 6
    assert all(f"shaft {name}" in checked.stdout for name in ("X02", "X06"))
