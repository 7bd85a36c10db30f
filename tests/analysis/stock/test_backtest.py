"""Past quarters by a rule: counted by hand, stock carried on, differences with Student's interval."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.stock.backtest import mean_difference, run_rule
from wearstats.analysis.stock.lot_sizes import DAYS_A_YEAR, StockCosts
from wearstats.analysis.stock.quantities import Shelf
from wearstats.analysis.stock.substitution import one_way
from wearstats.domain.arrays import FloatArray

COSTS = StockCosts(setup=90.0, made=50.0, held=7.0, lacking=120.0, batch_size=10)


def shelf(on_hand: list[float]) -> Shelf:
    sizes = np.arange(len(on_hand), dtype=np.float64) * 25.0
    return Shelf(
        on_hand=np.array(on_hand),
        may_make=np.ones(len(on_hand), dtype=bool),
        filing=one_way(np.full((len(on_hand), len(on_hand)), 10.0), sizes),
        costs=COSTS,
        lead_days=30.0,
        stage_days=90.0,
    )


def test_two_quarters_counted_by_hand() -> None:
    seen: list[list[float]] = []

    def decide(quarter: int, stock: FloatArray) -> FloatArray:
        seen.append(stock.tolist())
        return np.array([4.0, 0.0]) if quarter == 0 else np.zeros(2)

    ran = run_rule([shelf([2.0, 1.0])] * 2, np.array([[3, 0], [0, 0]]), np.array([[2, 0], [1, 2]]), decide)
    # first: 3 needed of 2, the third from the tighter size, filed out; then 4 come and 2 go
    # second: 1 of 2 goes, and 2 are lacking
    assert seen == [[2.0, 1.0], [2.0, 0.0]]
    assert ran.lacking.tolist() == [[0.0, 0.0], [0.0, 2.0]]
    assert ran.left.tolist() == [[2.0, 0.0], [1.0, 0.0]]
    assert ran.filed.tolist() == [1.0, 0.0]
    assert ran.fill_rate == pytest.approx(1 - 2 / 8)
    lead, rest = 30.0 / DAYS_A_YEAR, 60.0 / DAYS_A_YEAR
    kept = lead * (3 + 0) / 2 + rest * (4 + 2) / 2
    # one hub fewer lies there at the end than at the beginning
    assert ran.cost[0] == pytest.approx(90 + 4 * 50 + 10 + 7 * kept + 50)
    kept = lead * (2 + 2) / 2 + rest * (2 + 1) / 2
    assert ran.cost[1] == pytest.approx(2 * 120 + 7 * kept + 50)


def test_hubs_are_neither_lost_nor_found() -> None:
    rng = np.random.default_rng(1)
    before, after = rng.poisson(2.0, (12, 3)), rng.poisson(4.0, (12, 3))
    ran = run_rule([shelf([5.0, 5.0, 5.0])] * 12, before, after, lambda _, stock: np.maximum(9.0 - stock, 0.0))
    sent = ran.needed - ran.lacking
    assert np.allclose((ran.start + ran.made - ran.left).sum(axis=1), sent.sum(axis=1))
    assert np.all(ran.left >= 0)
    assert np.array_equal(ran.start[1:], ran.left[:-1])


def test_the_mean_difference_has_the_interval_of_the_paired_t_test() -> None:
    # Student 1908, the sleep data as printed in many textbooks: mean difference 1.58, 95 % interval 0.70 to 2.46
    first = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
    second = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
    found = mean_difference(first, second)
    assert found.value == pytest.approx(1.58)
    assert found.low == pytest.approx(0.7001142, abs=1e-6)
    assert found.high == pytest.approx(2.4598858, abs=1e-6)
    assert mean_difference(first[:2], second[:2]).status == "none"
