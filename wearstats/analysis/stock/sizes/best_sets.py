"""Which sizes to keep: the best set of k on the grid that can be made, for every k.

Each shaft goes to the size kept that costs least for it. Where every shaft's cost falls to one best size and rises
again (single-peaked), it goes to one of the two kept sizes that its best size lies between, so that the best set is
found exactly by dynamic programming over pairs of neighbours: the one-sided assortment problem (Sadowski 1959;
Pentico, Operations Research 24 (1976) 1129). Whether the costs are single-peaked is looked at; where some are not,
the set found is only as good as it turns out to be, and a bound is given: the best set for the largest single-peaked
costs that lie nowhere above the true ones.

Two sizes may not stand together where nobody could tell their hubs apart, and what a set costs besides may hang on what
lies between two neighbours (`Neighbours`); both are part of the programme.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.stock.sizes.neighbours import Neighbours
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

_EVEN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeSet:
    """A set of sizes.

    Parameters
    ----------
    chosen : tuple of int
        Columns of the cost matrix, ascending.
    cost : float
        Mean cost of a shaft with these, and what stands between neighbours, where that was given.
    bound : float
        No set of as many sizes costs less than this; the same as `cost` where the costs are single-peaked.
    """

    chosen: tuple[int, ...]
    cost: float
    bound: float


def best_sets(
    cost: FloatArray, *, most: int, weight: FloatArray | None = None, neighbours: Neighbours | None = None
) -> list[SizeSet]:
    """Find the best set for every number of sizes.

    Parameters
    ----------
    cost : ndarray, shape (shafts, sizes)
        Finite; sizes in the order of their undersize.
    most : int
        Largest number of sizes.
    weight : ndarray, shape (shafts,), optional
        How often each shaft counts.
    neighbours : Neighbours, optional
        Which sizes may stand side by side in a set, and what sets cost a shaft besides.

    Returns
    -------
    list of SizeSet
        For 1, 2, … sizes, as far as there are sizes that can be told apart.
    """
    weights = np.ones(len(cost)) if weight is None else weight
    share = weights / weights.sum()
    around = Neighbours.none(cost.shape[1]) if neighbours is None else neighbours
    lower = single_peaked_below(cost)
    exact = bool(np.allclose(lower, cost, rtol=0, atol=_EVEN * max(float(cost.max()), 1.0)))
    found = []
    for chosen, bound in _programme(lower, share, most, around):
        actual = cost_of_set(cost, chosen, weight=weights) + around.of(chosen)
        if not exact:
            chosen, actual = _improve(cost, chosen, actual, weights, around)
        found.append(SizeSet(chosen=chosen, cost=actual, bound=actual if exact else bound))
    return found


def cost_of_set(cost: FloatArray, chosen: tuple[int, ...], *, weight: FloatArray | None = None) -> float:
    """Mean cost when every shaft goes to the size that costs least for it."""
    least = cost[:, list(chosen)].min(axis=1)
    return float(np.average(least, weights=weight))


def single_peaked_below(cost: FloatArray) -> FloatArray:
    """Give the largest costs that fall to each shaft's best size and rise again, and lie nowhere above; same shape."""
    place = np.arange(cost.shape[1])
    best = cost.argmin(axis=1)[:, None]
    from_right = np.minimum.accumulate(cost[:, ::-1], axis=1)[:, ::-1]
    from_left = np.minimum.accumulate(cost, axis=1)
    # right of the best size costs must rise outwards: no more than the least further out; likewise left of it
    return np.asarray(np.where(place > best, from_right, np.where(place < best, from_left, cost)))


def share_not_single_peaked(cost: FloatArray) -> float:
    """Share of shafts whose cost falls and rises more than once."""
    lower = single_peaked_below(cost)
    return float(np.mean(np.any(cost - lower > _EVEN * max(float(cost.max()), 1.0), axis=1)))


def _programme(
    cost: FloatArray, share: FloatArray, most: int, around: Neighbours
) -> list[tuple[tuple[int, ...], float]]:
    """Dynamic programme over neighbours; a shaft lies between the two kept sizes about its best one."""
    sizes = cost.shape[1]
    best = cost.argmin(axis=1)
    first, last, between = _pair_costs(cost, share, best)
    between = np.where(around.apart, between + around.between, np.inf)
    value = first + around.first
    back: list[IntArray] = []
    found = []
    for number in range(1, min(most, sizes) + 1):
        if number > 1:
            total = value[:, None] + between
            back.append(total.argmin(axis=0))
            value = total.min(axis=0)
        whole = value + last + around.last
        end = int(whole.argmin())
        if not np.isfinite(whole[end]):
            break
        found.append((_trace(back, end), float(whole[end])))
    return found


def _pair_costs(cost: FloatArray, share: FloatArray, best: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Cost of shafts below the first size, above the last one, and between two neighbours (infinite out of order).

    Between two neighbours a shaft goes to the cheaper one. As its costs rise to both sides of its best size, it goes to
    a right neighbour for as long as the left one is dearer: up to a place that shows when all its costs are sorted. So
    every cost is entered once where that begins, and running sums do the rest: as many steps as there are costs.
    """
    sizes = cost.shape[1]
    place = np.arange(sizes)
    weighed = cost * share[:, None]
    at_left = place <= best[:, None]
    first = np.where(at_left, 0.0, weighed).sum(axis=0)
    last = np.where(at_left, weighed, 0.0).sum(axis=0)
    order = cost.argsort(axis=1, kind="stable")
    left_sorted = np.take_along_axis(at_left, order, axis=1)
    lefts = np.cumsum(left_sorted, axis=1)
    # cheaper places on the other side: of a right size those left of the best one, of a left size those right of it
    beyond = np.where(left_sorted, best[:, None] + 1 + (place + 1 - lefts), best[:, None] - lefts)
    value = np.take_along_axis(weighed, order, axis=1)
    to_right = _summed(beyond, order, value, ~left_sorted & (beyond >= 0), sizes)[::-1].cumsum(axis=0)[::-1]
    to_left = _summed(order, beyond, value, left_sorted & (beyond < sizes), sizes).cumsum(axis=1)
    return first, last, np.where(place > place[:, None], to_right + to_left, np.inf)


def _summed(rows: IntArray, columns: IntArray, value: FloatArray, which: BoolArray, sizes: int) -> FloatArray:
    """Sum values by row and column, shape (sizes, sizes)."""
    cells = rows[which] * sizes + columns[which]
    total = np.bincount(cells, weights=value[which], minlength=sizes * sizes)
    return np.asarray(total.reshape(sizes, sizes), dtype=np.float64)


def _trace(back: list[IntArray], end: int) -> tuple[int, ...]:
    chosen = [end]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1]]))
    return tuple(reversed(chosen))


def _improve(
    cost: FloatArray, chosen: tuple[int, ...], actual: float, weight: FloatArray, around: Neighbours
) -> tuple[tuple[int, ...], float]:
    """Exchange one size for another as long as that helps."""
    while True:
        held = list(chosen)
        better = (actual - _EVEN, chosen)
        for at in range(len(held)):
            others = held[:at] + held[at + 1 :]
            floor = cost[:, others].min(axis=1) if others else np.full(len(cost), np.inf)
            totals = np.average(np.minimum(floor[:, None], cost), axis=0, weights=weight) + around.with_one_more(others)
            least = int(totals.argmin())
            if totals[least] < better[0]:
                better = (float(totals[least]), tuple(sorted([*others, least])))
        if better[1] == chosen:
            return chosen, actual
        actual, chosen = better
