"""A limit shared among patterns, against trying every quantity of all of them."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.analysis.stock.test_best_quantities import COSTS, added_up, invented
from wearstats.analysis.stock.best_quantities import MakeLimit, best_quantities, frontier_within
from wearstats.analysis.stock.shared_limit import share_limit


@pytest.mark.parametrize("limit", [MakeLimit(hubs=3), MakeLimit(money=65.0), MakeLimit(hubs=3, money=75.0)])
@pytest.mark.parametrize("seed", range(4))
def test_no_other_quantities_of_all_patterns_are_cheaper(seed: int, limit: MakeLimit) -> None:
    patterns = [invented(10 * seed + number, sizes=2) for number in range(3)]
    shares = share_limit([frontier_within(*each, limit=limit) for each in patterns], limit)
    found = [best_quantities(*each, limit=share) for each, share in zip(patterns, shares, strict=True)]
    makes = np.concatenate([each.make for each in found])
    assert limit.allows(makes.sum(), COSTS.making(makes.astype(float)).sum())

    every = []
    for shelf, before, after, rules in patterns:
        tries = itertools.product(*(range(5) if may else range(1) for may in shelf.may_make))
        spent = [(sum(make), COSTS.making(np.array(make, dtype=float)).sum(), make) for make in tries]
        every.append([(hubs, money, added_up(shelf, make, before, after, rules)) for hubs, money, make in spent])
    least = min(
        sum(cost for *_, cost in together)
        for together in itertools.product(*every)
        if limit.allows(np.array(sum(hubs for hubs, *_ in together)), np.array(sum(money for _, money, _ in together)))
    )
    assert sum(each.cost for each in found) == pytest.approx(least)
