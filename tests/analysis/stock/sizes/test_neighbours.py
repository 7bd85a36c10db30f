"""What is lost on hubs that lie on the shelf, counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.stock.sizes.best_sets import best_sets
from wearstats.analysis.stock.sizes.neighbours import Neighbours, neighbours_of

SIZES = np.array([0.0, 10.0, 20.0, 30.0])
NEED = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 30.0])
COST = np.abs(SIZES - NEED[:, None])


def ask(lying: list[float], *, apart_um: float = 0.0, lies: float = 0.0, made: float = 8.0) -> Neighbours:
    # one hub for every shaft on record
    return neighbours_of(COST, SIZES, apart_um=apart_um, lying=np.array(lying), made=made, lies=lies, needs=6.0)


def test_a_hub_goes_to_the_shaft_that_it_costs_least() -> None:
    found = ask([0, 1, 0, 0])
    # the hub of 10, neighbours 0 and 20 kept: the shafts at 5 and 15 take it for nothing, that at 10 gains
    assert found.of([0, 2]) == 0
    # only 30 kept: the nearest shaft that lies below 30 takes it, as well off
    assert found.of([3]) == 0
    # only 0 kept, and no shaft but those whose best size is at least 0
    assert found.of([0]) == 0
    assert found.of([0, 1, 2]) == 0


def test_what_none_takes_is_lost_at_what_making_it_costs() -> None:
    found = ask([0, 0, 0, 3])
    # a hub of 30 with 20 kept: the shaft at 30 gains, those at 20 and 15 lose 10 and 5 more than by 20, made for 8;
    # but the shaft at 15 has its best size at 10 or 20, those at or above 20 are its only takers too
    losses = sorted(np.minimum(np.maximum(COST[:, 3] - COST[:, 2], 0), 8)[COST.argmin(axis=1) >= 2])
    usable = min(3, int((COST[:, 3] - COST.min(axis=1) < 8).sum()))
    paid = sum(losses[:usable]) + 8 * max(usable - len(losses), 0)
    assert found.of([0, 2]) == pytest.approx(paid / 6)


def test_what_no_set_could_use_weighs_on_none() -> None:
    # a thousand hubs of a size: no more of them count than shafts that could ever take one
    assert ask([0, 0, 0, 1000]).of([2]) == ask([0, 0, 0, 6]).of([2])


def test_lying_there_costs_too_but_never_more_than_making() -> None:
    assert ask([0, 1, 0, 0], lies=3.0).of([0, 2]) == pytest.approx(3.0 / 6)
    assert ask([0, 1, 0, 0], lies=30.0).of([0, 2]) == pytest.approx(8.0 / 6)


def test_nothing_is_lost_where_nothing_lies_there_or_nothing_is_needed() -> None:
    assert ask([0, 0, 0, 0]).of([1]) == 0
    none = neighbours_of(COST, SIZES, apart_um=0.0, lying=np.ones(4), made=8.0, lies=0.0, needs=0.0)
    assert none.of([1]) == 0


@pytest.mark.parametrize(("apart_um", "sets"), [(0.0, 4), (10.0, 4), (10.1, 2), (20.0, 2), (30.0, 2), (31.0, 1)])
def test_sizes_closer_than_the_spread_never_stand_together(apart_um: float, sets: int) -> None:
    found = best_sets(COST, most=4, neighbours=ask([0, 0, 0, 0], apart_um=apart_um))
    assert len(found) == sets
    assert all(np.diff(SIZES[list(each.chosen)]).min(initial=99) >= apart_um for each in found)


def test_a_size_that_lies_there_is_kept_rather_than_its_like() -> None:
    even = np.abs(SIZES - np.array([[15.0]] * 6))
    for place in (1, 2):
        lying = np.zeros(4)
        lying[place] = 2
        around = neighbours_of(even, SIZES, apart_um=0.0, lying=lying, made=8.0, lies=1.0, needs=6.0)
        assert best_sets(even, most=1, neighbours=around)[0].chosen == (place,)
