"""What to make now against trying every quantity, with the cost added up apart, need by need."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from wearstats.analysis.stock.best_quantities import MakeLimit, best_quantities
from wearstats.analysis.stock.lot_sizes import DAYS_A_YEAR, Restocking, StockCosts
from wearstats.analysis.stock.quantities import Shelf, size_rules
from wearstats.analysis.stock.substitution import one_way

LEAD, STAGE = 35.0, 91.3
COSTS = StockCosts(setup=20.0, made=10.0, held=4.0, lacking=45.0, batch_size=3)


def invented(seed: int, sizes: int = 3) -> tuple[Shelf, np.ndarray, np.ndarray, list[Restocking]]:
    """A small shelf: some sizes lie there, one of them is no longer kept, filing costs more the farther it goes."""
    rng = np.random.default_rng(seed)
    undersizes = np.cumsum(rng.integers(1, 4, sizes)).astype(float)
    step = np.maximum(undersizes[None, :] - undersizes[:, None], 0.0)
    filing = np.where(rng.random(step.shape) < 0.15, np.inf, rng.uniform(1, 9) * step)
    on_hand = np.where(rng.random(sizes) < 0.5, rng.integers(1, 4, sizes), 0).astype(float)
    shelf = Shelf(
        on_hand=on_hand,
        may_make=rng.random(sizes) < 0.8,
        filing=one_way(filing, undersizes),
        costs=COSTS,
        lead_days=LEAD,
        stage_days=STAGE,
    )
    before, after = rng.poisson(0.4, (40, sizes)), rng.poisson(1.0, (40, sizes))
    # any value of what is left will do, short so that few quantities are to be tried
    rules = [Restocking(make=np.zeros(3), value=-np.cumsum(rng.uniform(0, 12, 3))) for _ in range(sizes)]
    return shelf, before, after, rules


def added_up(
    shelf: Shelf, make: tuple[int, ...], before: np.ndarray, after: np.ndarray, rules: list[Restocking]
) -> float:
    """Expected cost, draw by draw and need by need."""
    costs, sizes = shelf.costs, len(make)
    has = [shelf.on_hand[size] + make[size] > 0 for size in range(sizes)]
    total = 0.0
    comes: dict[int, list[int]] = {size: [] for size in range(sizes)}
    for size in range(sizes):
        to = next((other for other in range(size, sizes) if has[other]), None)
        needed = before[:, size].mean() + after[:, size].mean()
        if to is not None and (to == size or shelf.filing[size, to] <= costs.lacking - costs.made):
            comes[to].append(size)
            total += needed * shelf.filing[size, to]
        else:
            total += needed * costs.lacking
        if to != size:
            total += rules[size].value[0]
    for size in range(sizes):
        if not has[size]:
            continue
        other = next((each for each in range(size + 1, sizes) if has[each]), None)
        short = costs.lacking
        if other is not None and shelf.filing[size, other] <= costs.lacking - costs.made:
            short = min(short, shelf.filing[size, other] + costs.made)
        total += costs.setup * -(-make[size] // costs.batch_size) + costs.made * make[size]
        for first, second in zip(before[:, comes[size]].sum(1), after[:, comes[size]].sum(1), strict=True):
            start = shelf.on_hand[size]
            there = max(start - first, 0)
            end = max(there + make[size] - second, 0)
            lacking = max(first - start, 0) + max(second - there - make[size], 0)
            lies = LEAD * (start + there) / 2 + (STAGE - LEAD) * (there + make[size] + end) / 2
            later = rules[size].value[int(min(end, rules[size].value.size - 1))]
            total += (costs.held * lies / DAYS_A_YEAR + short * lacking + later) / len(before)
    return float(total)


LIMITS = [
    None,
    MakeLimit(hubs=0),
    MakeLimit(hubs=2),
    MakeLimit(hubs=4),
    MakeLimit(money=25.0),
    MakeLimit(money=30.0),
    MakeLimit(money=75.0),
    MakeLimit(hubs=3, money=60.0),
    MakeLimit(hubs=1000, money=1e6),
]


@pytest.mark.parametrize("seed", range(12))
def test_no_other_quantities_are_cheaper_within_any_limit(seed: int) -> None:
    shelf, before, after, rules = invented(seed)
    # no more than twice the longest rule is ever made
    tries = [range(5) if may else range(1) for may in shelf.may_make]
    every = {make: added_up(shelf, make, before, after, rules) for make in itertools.product(*tries)}
    for limit in LIMITS:
        found = best_quantities(shelf, before, after, rules, limit=limit)
        allowed = limit or MakeLimit()
        within = {
            make: cost
            for make, cost in every.items()
            if allowed.allows(np.array(sum(make)), COSTS.making(np.array(make, dtype=float)).sum())
        }
        make = tuple(found.make.tolist())
        assert make in within
        assert found.cost == pytest.approx(every[make])
        assert found.cost == pytest.approx(min(within.values()))
        assert found.limit_costs == pytest.approx(min(within.values()) - min(every.values()), abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_four_sizes_within_a_budget(seed: int) -> None:
    shelf, before, after, rules = invented(100 + seed, sizes=4)
    tries = [range(5) if may else range(1) for may in shelf.may_make]
    found = best_quantities(shelf, before, after, rules, limit=MakeLimit(money=90.0))
    within = [
        added_up(shelf, make, before, after, rules)
        for make in itertools.product(*tries)
        if COSTS.making(np.array(make, dtype=float)).sum() <= 90.0
    ]
    assert found.cost == pytest.approx(min(within))


def test_setups_that_cost_nothing_and_hubs_that_cost_nothing() -> None:
    shelf, before, after, rules = invented(3)
    for costs in (
        StockCosts(setup=0.0, made=10.0, held=4.0, lacking=45.0, batch_size=3),
        StockCosts(setup=20.0, made=0.0, held=4.0, lacking=45.0, batch_size=3),
    ):
        free = Shelf(
            on_hand=shelf.on_hand, may_make=np.ones(3, dtype=bool), filing=shelf.filing, costs=costs,
            lead_days=LEAD, stage_days=STAGE,
        )  # fmt: skip
        found = best_quantities(free, before, after, rules, limit=MakeLimit(money=20.0))
        within = [
            added_up(free, make, before, after, rules)
            for make in itertools.product(range(5), repeat=3)
            if costs.making(np.array(make, dtype=float)).sum() <= 20.0
        ]
        assert found.cost == pytest.approx(min(within))


def test_large_numbers_go_by_bundles_and_hold_the_limit() -> None:
    rng = np.random.default_rng(1)
    before, after = (rng.poisson(mean, size=(500, 2)) for mean in (300.0, 500.0))
    shelf = Shelf(
        on_hand=np.zeros(2),
        may_make=np.ones(2, dtype=bool),
        filing=one_way(np.full((2, 2), np.inf), np.array([0.0, 25.0])),
        costs=StockCosts(setup=90.0, made=52.0, held=7.0, lacking=127.0, batch_size=20),
        lead_days=LEAD,
        stage_days=STAGE,
    )
    rules = size_rules(shelf, before, after)
    free = best_quantities(shelf, before, after, rules)
    limited = best_quantities(shelf, before, after, rules, limit=MakeLimit(hubs=600))
    assert free.make.sum() > 800
    assert 550 < limited.make.sum() <= 600
    assert limited.limit_costs > 0
    # of a large budget whole batches are made, none of them beyond it
    money = best_quantities(shelf, before, after, rules, limit=MakeLimit(money=40_000.0))
    assert 35_000.0 < shelf.costs.making(money.make.astype(float)).sum() <= 40_000.0
    assert not np.any(money.make % 20)
