"""How many to have: the textbook's figures, full enumeration, and demand drawn beside."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from tests.analysis.support.newsvendor import newsvendor_counts, newsvendor_normal
from wearstats.analysis.stock.substitution import one_way, serve
from wearstats.domain.arrays import FloatArray


def test_normal_demand_as_published() -> None:
    # Cachon and Terwiesch, Matching Supply with Demand, newsvendor chapter, the wetsuit example: mean 3192, sd 1181,
    # price 180, cost 110, salvage 90. Published from a rounded table: 4101, about 150 lost, 1059 left, profit 191 760.
    # The exact figures at the rounded z of 0.77 are 149.63, 1059.00 and 191 786; unrounded z 0.76471 gives 4095.1.
    found = newsvendor_normal(3192.0, 1181.0, under=70.0, over=20.0)
    assert found.quantity == pytest.approx(4095.1, abs=0.05)
    assert found.quantity == pytest.approx(4101, abs=10)
    assert found.lacking == pytest.approx(150, abs=3)
    assert found.left == pytest.approx(1059, abs=10)
    assert 70.0 * 3192.0 - found.cost == pytest.approx(191_786, abs=30)


def test_counted_demand_against_every_quantity() -> None:
    # Poisson(12), 3 for one too few, 1 for one too many: quantity 14, cost 4.519663 (computed apart, kept as a check)
    chance = poisson.pmf(np.arange(120), 12.0)
    found = newsvendor_counts(chance, under=3.0, over=1.0)
    assert found.quantity == 14
    assert found.cost == pytest.approx(4.519663, abs=1e-6)
    count = np.arange(120)
    every = [3.0 * (np.maximum(count - q, 0) @ chance) + 1.0 * (np.maximum(q - count, 0) @ chance) for q in range(40)]
    assert int(np.argmin(every)) == 14
    assert min(every) == pytest.approx(found.cost)


def test_counted_demand_costs_what_drawn_demand_costs() -> None:
    chance = poisson.pmf(np.arange(120), 12.0)
    found = newsvendor_counts(chance, under=3.0, over=1.0)
    drawn = np.random.default_rng(1).poisson(12.0, size=400_000)
    costs = 3.0 * np.maximum(drawn - found.quantity, 0) + np.maximum(found.quantity - drawn, 0)
    assert costs.mean() == pytest.approx(found.cost, abs=4 * costs.std() / np.sqrt(drawn.size))


@pytest.mark.parametrize(("rework", "best", "profit"), [(1.5, (5, 2), 18.4175574), (8.0, (4, 3), 16.3712586)])
def test_one_way_substitution_by_full_enumeration(rework: float, best: tuple[int, int], profit: float) -> None:
    # two Poisson needs of 4 and 3; price 10, cost 6, salvage 2; the first size may serve what is left of the second
    # need at the cost of rework. Figures found apart by full enumeration, kept as a check.
    most = 40
    first, second = (grid.ravel() for grid in np.indices((most, most)))
    weight = poisson.pmf(first, 4.0) * poisson.pmf(second, 3.0)
    # the tighter hub is the one that substitutes: needs by undersize, the looser first
    need = np.column_stack([second, first]).astype(float)
    filing = one_way(np.full((2, 2), rework), np.array([0.0, 25.0]))

    def value(q1: int, q2: int) -> float:
        stock = np.broadcast_to(np.array([q2, q1], dtype=float), need.shape)
        served = serve(stock, need, filing, np.full(2, 10.0 - 2.0))
        sold = need.sum(axis=1) - served.lacking.sum(axis=1)
        money = 10.0 * sold + 2.0 * served.left.sum(axis=1) - served.filing_cost - 6.0 * (q1 + q2)
        return float(weight @ money)

    every = {(q1, q2): value(q1, q2) for q1 in range(11) for q2 in range(11)}
    assert max(every, key=lambda q: every[q]) == best
    assert every[best] == pytest.approx(profit, abs=1e-6)


def test_a_looser_hub_never_serves_a_tighter_need() -> None:
    filing = one_way(np.zeros((3, 3)), np.array([0.0, 25.0, 50.0]))
    stock = np.array([[9.0, 9.0, 0.0]])
    served = serve(stock, np.array([[0.0, 0.0, 4.0]]), filing, np.full(3, 100.0))
    assert served.lacking.tolist() == [[0.0, 0.0, 4.0]]
    assert served.left.tolist() == stock.tolist()
    # the other way about it does, from the nearest first where it costs the same less
    cost: FloatArray = one_way(np.array([[0, 5, 9], [0, 0, 5], [0, 0, 0]], dtype=float), np.array([0.0, 25.0, 50.0]))
    served = serve(np.array([[0.0, 1.0, 2.0]]), np.array([[2.0, 0.0, 0.0]]), cost, np.full(3, 100.0))
    assert served.left.tolist() == [[0.0, 0.0, 1.0]]
    assert served.filing_cost.tolist() == [14.0]
    # nor where filing costs more than going without
    served = serve(np.array([[0.0, 1.0, 2.0]]), np.array([[2.0, 0.0, 0.0]]), cost, np.full(3, 6.0))
    assert served.lacking.tolist() == [[1.0, 0.0, 0.0]]
