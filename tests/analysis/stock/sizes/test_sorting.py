"""Gauging and sorting, where what it comes to is known."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.analysis.stock.sizes.sorting import cost_sorted, saved

LADDER = np.arange(-10.0, 111.0, 1.0)
NEED = np.linspace(10.0, 90.0, 41)


def gauged(cost: np.ndarray) -> PairCosts:
    return PairCosts(
        undersizes_um=LADDER,
        fixed=cost,
        risk=np.zeros((1, *cost.shape)),
        minutes=np.zeros(cost.shape),
        failure_price=0.0,
        unserved_price=30.0,
        by_draw=cost[..., None],
    )


def ask(cost: np.ndarray, sizes: list[float], *, sd_um: float, hubs: int) -> np.ndarray:
    return cost_sorted(gauged(cost), sizes, sd_um=sd_um, hubs=hubs, rng=np.random.default_rng(1))


def test_hubs_that_do_not_spread_are_not_worth_sorting() -> None:
    cost = np.abs(LADDER - NEED[:, None])
    expected = np.minimum(np.abs(30.0 - NEED), np.abs(70.0 - NEED))
    assert ask(cost, [30.0, 70.0], sd_um=0.0, hubs=5) == pytest.approx(expected)


def test_a_single_hub_on_the_shelf_leaves_no_choice() -> None:
    cost = np.abs(LADDER - NEED[:, None])
    found = ask(cost, [50.0], sd_um=4.0, hubs=1)
    half = 4.0 * np.sqrt(3.0)
    drawn = np.rint(50.0 + np.random.default_rng(2).uniform(-half, half, 200_000))
    expected = np.abs(drawn[:, None] - NEED).mean()
    assert found.mean() == pytest.approx(expected, rel=0.02)


def test_more_hubs_to_pick_from_cost_less_but_what_nobody_wants_stays() -> None:
    cost = np.abs(LADDER - 50.0) * np.ones((60, 1))
    few, many = (ask(cost, [50.0], sd_um=4.0, hubs=hubs).mean() for hubs in (2, 12))
    assert many < few
    # all shafts want the same: in the end every hub made is sent, but for those that stay to the last
    everything = 4.0 * np.sqrt(3.0) / 2
    assert 0.75 * everything < many


def test_a_shaft_that_no_hub_serves_takes_none() -> None:
    cost = np.where(NEED[:, None] > 80.0, np.inf, np.abs(LADDER - NEED[:, None]))
    found = ask(cost, [50.0], sd_um=0.0, hubs=3)
    assert found[NEED > 80.0] == pytest.approx(30.0)
    assert found[NEED <= 80.0] == pytest.approx(np.abs(50.0 - NEED[NEED <= 80.0]))


def test_what_is_saved_has_an_interval_about_it() -> None:
    unsorted = np.array([3.0, 5.0, 7.0])
    weight = np.array([[1.0, 1.0, 1.0], [3.0, 0.0, 0.0], [0.0, 0.0, 3.0]])
    found = saved(unsorted, np.ones(3), weight, times=10.0)
    assert found.value == pytest.approx(40.0)
    assert found.low == pytest.approx(20.0, rel=0.1)
    assert found.high == pytest.approx(60.0, rel=0.1)
