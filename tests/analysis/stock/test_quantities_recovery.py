"""Quantities chosen quarter after quarter, run on for years of drawn needs, against simple habits."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from wearstats.analysis.stock.backtest import RuleRun, run_rule
from wearstats.analysis.stock.best_quantities import best_quantities
from wearstats.analysis.stock.lot_sizes import StockCosts
from wearstats.analysis.stock.quantities import Shelf, size_rules
from wearstats.analysis.stock.substitution import one_way
from wearstats.domain.arrays import FloatArray

UNDERSIZES = np.array([0.0, 25.0, 50.0, 75.0, 100.0, 150.0])
MEAN = 25.0 * np.array([0.42, 0.28, 0.14, 0.07, 0.05, 0.03])
PARTS = np.array([35.0 / 91.3, 1.0 - 35.0 / 91.3])
COSTS = StockCosts(setup=90.0, made=52.0, held=7.0, lacking=127.0, batch_size=20)
SHELF = Shelf(
    on_hand=np.array([8.0, 6.0, 4.0, 3.0, 2.0, 2.0]),
    may_make=np.ones(6, dtype=bool),
    filing=one_way(1.8 * np.maximum(UNDERSIZES[None, :] - UNDERSIZES[:, None], 0.0), UNDERSIZES),
    costs=COSTS,
    lead_days=35.0,
    stage_days=91.3,
)


def run(decide: Callable[[FloatArray], FloatArray], *, quarters: int, seed: int) -> RuleRun:
    rng = np.random.default_rng(seed)
    before, after = (rng.poisson(part * MEAN, size=(quarters, MEAN.size)) for part in PARTS)
    return run_rule([SHELF] * quarters, before, after, lambda _, stock: decide(stock))


@pytest.mark.slow
def test_sixty_quarters_cost_less_than_by_any_simple_habit_and_serve_nearly_all() -> None:
    spans = PARTS[:, None] * MEAN
    plan = np.random.default_rng(5).poisson(spans, size=(800, *spans.shape))
    rules = size_rules(SHELF, plan[:, 0], plan[:, 1])

    def together(stock: FloatArray) -> FloatArray:
        now = dataclasses.replace(SHELF, on_hand=stock)
        return np.asarray(best_quantities(now, plan[:, 0], plan[:, 1], rules).make, dtype=float)

    ours = [run(together, quarters=60, seed=seed) for seed in range(3)]
    cost = float(np.mean([ran.cost.mean() for ran in ours]))
    assert min(ran.fill_rate for ran in ours) > 0.985
    for low in (1.0, 1.5):
        for up_to in (1.5, 2.0, 3.0, 4.0):

            def habit(stock: FloatArray, low: float = low, up_to: float = up_to) -> FloatArray:
                wanted = np.maximum(np.ceil(up_to * MEAN) + 2.0 - stock, 0.0)
                return np.asarray(np.where(stock < np.ceil(low * MEAN), wanted, 0.0))

            theirs = [run(habit, quarters=60, seed=seed).cost.mean() for seed in range(3)]
            assert cost < float(np.mean(theirs))
