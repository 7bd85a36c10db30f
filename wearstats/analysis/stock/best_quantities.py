"""How many of each size to make now, all sizes together: the least expected cost, exactly, under limits too.

What is decided is how many hubs of each size to make now. A size of which none lies there and none is made has none
until the next chance: its needs go to the next tighter size that has hubs, filed out, or to none where that is not
done. A size that has hubs serves its own needs and those that come to it so; what it lacks costs no more than a hub of
the next tighter size that has some, filed out and made again. Its own cost is that of the coming stage and, from what
is left at its end, of its own rule (`quantities.size_rules`), in which it may be made again.

So a size's cost depends on how many of it are made and on its two neighbours that have hubs, and on nothing else. A
dynamic programme from the tightest size to the loosest finds the least sum, over which sizes have hubs and how many are
made; under a limit its states are kept apart by setups and hubs used so far, as in a knapsack (Bellman 1957). That
tighter hubs may themselves have run out when they are asked to help is left out; `quantities.check_quantities`
simulates it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wearstats.analysis.stock.lot_sizes import DAYS_A_YEAR, Restocking
from wearstats.analysis.stock.quantities import Shelf
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

MOST_STEPS = 300
"""Of larger numbers hubs are made in bundles, or the programme takes minutes."""
MOST_CELLS = 20_000
"""Where setups and hubs within a budget come to more pairs than this, only whole batches are made."""
_EVEN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeLimit:
    """What may be spent on making now; None: no limit.

    Parameters
    ----------
    hubs : int or None
        Most hubs, all sizes together.
    money : float or None
        Most money, setups and hubs together.
    """

    hubs: int | None = None
    money: float | None = None

    def allows(self, hubs: FloatArray | IntArray, money: FloatArray) -> BoolArray:
        """Say what is within it; any shape."""
        most_hubs = np.inf if self.hubs is None else self.hubs
        most_money = np.inf if self.money is None else self.money
        return np.asarray((hubs <= most_hubs) & (money <= most_money * (1.0 + _EVEN)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BestQuantities:
    """What to make.

    Parameters
    ----------
    make : ndarray of int, shape (sizes,)
    cost : float
        Expected cost from now on, up to a constant that is the same for every limit.
    unlimited_hubs : int
        Hubs that would be made without any limit.
    limit_costs : float
        What the limit costs, 0 or more.
    """

    make: IntArray
    cost: float
    unlimited_hubs: int
    limit_costs: float


def best_quantities(
    shelf: Shelf, before: IntArray, after: IntArray, rules: list[Restocking], *, limit: MakeLimit | None = None
) -> BestQuantities:
    """Find the quantities of least expected cost.

    Parameters
    ----------
    shelf : Shelf
        `Shelf.on_hand` of shape (sizes,).
    before, after : ndarray of int, shape (draws, sizes)
        Drawn demand until what is made now is there, and from then until the next chance.
    rules : list of Restocking
        From `size_rules`.
    limit : MakeLimit, optional
    """
    stage = _Stage(shelf, before, after, rules)
    free = _Programme(stage, setups=0, hubs=0, limit=MakeLimit()).solve()
    if limit is None or limit.allows(free.make.sum(), shelf.costs.making(free.make.astype(float)).sum()):
        return free
    found = _within(stage, limit).solve()
    return replace(found, unlimited_hubs=free.unlimited_hubs, limit_costs=found.cost - free.cost)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frontier:
    """What spending more brings; arrays of shape (points,).

    Parameters
    ----------
    hubs, money : ndarray
        What is spent, as far as it is limited; 0 where it is not.
    cost : ndarray
        Least expected cost from now on with exactly that.
    """

    hubs: IntArray
    money: FloatArray
    cost: FloatArray


def frontier_within(
    shelf: Shelf, before: IntArray, after: IntArray, rules: list[Restocking], *, limit: MakeLimit
) -> Frontier:
    """Give the least expected cost for everything that may be spent within a limit; arguments of `best_quantities`."""
    return _within(_Stage(shelf, before, after, rules), limit).frontier()


def _within(stage: _Stage, limit: MakeLimit) -> _Programme:
    """Lay out the programme for a limit."""
    costs, money = stage.shelf.costs, limit.money
    most_hubs = stage.most_made.sum() if limit.hubs is None else min(limit.hubs, stage.most_made.sum())
    setups = 0
    if money is not None:
        if costs.made > 0:
            most_hubs = min(most_hubs, np.floor(money / costs.made + _EVEN))
        if costs.setup > 0:
            most_setups = np.ceil(stage.most_made / costs.batch_size).sum()
            setups = int(min(np.floor(money / costs.setup + _EVEN), most_setups))
        if (setups + 1) * (most_hubs // stage.step + 1) > MOST_CELLS:
            stage.step = int(costs.batch_size * np.ceil(most_hubs / costs.batch_size / MOST_STEPS))
            setups = 0
    return _Programme(stage, setups=setups, hubs=int(most_hubs // stage.step), limit=limit)


class _Stage:
    """Expected costs of sizes by their neighbours that have hubs."""

    def __init__(self, shelf: Shelf, before: IntArray, after: IntArray, rules: list[Restocking]) -> None:
        self.shelf, self.rules = shelf, rules
        self.before, self.after = before, after
        self.need: FloatArray = before.mean(axis=0) + after.mean(axis=0)
        self.on_hand = np.asarray(shelf.on_hand).astype(np.int64)
        costs = shelf.costs
        self.serves: BoolArray = np.isfinite(shelf.filing) & (shelf.filing <= costs.lacking - costs.made)
        self.empty = np.array([rule.value[0] for rule in rules])
        others = (before + after).sum(axis=1).max()
        most = [rule.value.size - 1 + min(float(others), rule.value.size - 1) for rule in rules]
        # most hubs of each size that are looked at, and hubs of a bundle
        self.most_made = np.where(shelf.may_make, most, 0.0)
        self.step = max(int(np.ceil(self.most_made.max() / MOST_STEPS)), 1)

    def made(self, size: int) -> IntArray:
        """List the quantities looked at; none at all only where hubs lie there."""
        tried = np.arange(0, int(self.most_made[size]) + 1, self.step)
        return tried if self.on_hand[size] > 0 else tried[1:]

    def without(self, sizes: range) -> float:
        """Cost of sizes of which none is there and which none serves."""
        places = list(sizes)
        return float(self.shelf.costs.lacking * self.need[places].sum() + self.empty[places].sum())

    def short(self, size: int, tighter: int) -> float:
        """Cost of a need that a size lacks, by the next tighter one that has hubs."""
        costs = self.shelf.costs
        if tighter >= self.need.size or not self.serves[size, tighter]:
            return costs.lacking
        return float(min(costs.lacking, self.shelf.filing[size, tighter] + costs.made))

    def costs_of(self, size: int, looser: int) -> tuple[FloatArray, FloatArray]:
        """Cost of a size by hubs made, `looser` being the next one that has hubs; and the needs it lacks."""
        shelf, costs, rule = self.shelf, self.shelf.costs, self.rules[size]
        come = [each for each in range(looser + 1, size) if self.serves[each, size]]
        rest = [each for each in range(looser + 1, size) if not self.serves[each, size]]
        fixed = float(self.need[come] @ shelf.filing[come, size]) + float(self.empty[come].sum())
        fixed += float(costs.lacking * self.need[rest].sum() + self.empty[rest].sum())
        mine = [*come, size]
        first, second = self.before[:, mine].sum(axis=1), self.after[:, mine].sum(axis=1)
        there, made = self.on_hand[size], self.made(size)
        left = np.maximum(there - first, 0)
        # after what is made has come only what is left less what is needed counts, and how often it comes to so many
        over, times = np.unique(left - second, return_counts=True)
        share = times / times.sum()
        end = over[None, :] + made[:, None]
        stays = np.maximum(end, 0)
        lacking = np.maximum(first - there, 0).mean() + np.maximum(-end, 0) @ share
        later = rule.value[np.minimum(stays, rule.value.size - 1)] @ share
        lead, on = shelf.lead_days / DAYS_A_YEAR, (shelf.stage_days - shelf.lead_days) / DAYS_A_YEAR
        lies = lead * (there + left.mean()) / 2.0 + on * (left.mean() + made + stays @ share) / 2.0
        return fixed + costs.making(made.astype(float)) + costs.held * lies + later, np.asarray(lacking, dtype=float)


class _Programme:
    """The dynamic programme from the tightest size to the loosest, told apart by setups and hubs used."""

    def __init__(self, stage: _Stage, *, setups: int, hubs: int, limit: MakeLimit) -> None:
        self.stage, self.limit = stage, limit
        self.shape = (setups + 1, hubs + 1)
        self.limited = limit.hubs is not None or limit.money is not None
        self.sizes = stage.need.size
        # by (next tighter size that has hubs, size): least cost of all tighter ones, by what they used; how come by
        self._cost: dict[tuple[int, int], FloatArray] = {}
        self._from: dict[tuple[int, int], tuple[IntArray, IntArray]] = {}

    def solve(self) -> BestQuantities:
        """Find the least cost, and trace it back."""
        self._run()
        return self._best()

    def frontier(self) -> Frontier:
        """Find the least cost by what is spent."""
        self._run()
        least = np.min([self._cost[state] for state in self._cost if state[1] == -1], axis=0)
        hubs, money = self._spent()
        there = np.isfinite(least) & self.limit.allows(hubs, money)
        nothing = np.zeros(int(there.sum()))
        return Frontier(
            hubs=nothing.astype(np.int64) if self.limit.hubs is None else hubs[there],
            money=nothing if self.limit.money is None else money[there],
            cost=least[there],
        )

    def _spent(self) -> tuple[IntArray, FloatArray]:
        """Give hubs and money of every cell."""
        costs = self.stage.shelf.costs
        setups, bundles = np.indices(self.shape)
        hubs = np.asarray(bundles * self.stage.step, dtype=np.int64)
        if not self._apart:
            setups = np.ceil(hubs / costs.batch_size)
        return hubs, np.asarray(setups * costs.setup + hubs * costs.made)

    def _run(self) -> None:
        stage, sizes = self.stage, self.sizes
        lying = stage.on_hand > 0
        for size in range(sizes - 1, -1, -1):
            if not lying[size + 1 :].any():
                self._put((sizes, size), self._at_nothing(stage.without(range(size + 1, sizes))), -1, np.array([0]))
            tighter = [each for each in range(size + 1, sizes + 1) if (each, size) in self._cost]
            for looser in range(size - 1, -2, -1):
                self._extend(size, looser, tighter)
                if looser >= 0 and lying[looser]:
                    break
        if not lying.any():
            self._put((sizes, -1), self._at_nothing(stage.without(range(sizes))), -1, np.array([0]))

    def _at_nothing(self, cost: float) -> FloatArray:
        start = np.full(self.shape, np.inf)
        start[0, 0] = cost
        return start

    def _put(self, state: tuple[int, int], cost: FloatArray, tighter: int, made: IntArray) -> None:
        """Enter a way to a state where it is cheaper than those known."""
        known = self._cost.get(state)
        if known is None:
            known = self._cost[state] = np.full(self.shape, np.inf)
            self._from[state] = (np.full(self.shape, -1), np.zeros(self.shape, dtype=np.int64))
        better = cost < known - _EVEN
        known[better] = cost[better]
        came, hubs = self._from[state]
        came[better] = tighter
        hubs[better] = np.broadcast_to(made, self.shape)[better]

    def _extend(self, size: int, looser: int, tighter: list[int]) -> None:
        """Settle how many of a size are made, the next looser one that has hubs being given."""
        stage = self.stage
        made = stage.made(size)
        if not made.size or not tighter:
            return
        cost, lacking = stage.costs_of(size, looser)
        for each in tighter:
            before, mine = self._cost[each, size], cost + stage.short(size, each) * lacking
            if not self.limited:
                least = int(mine.argmin())
                self._put((size, looser), before + mine[least], each, made[least : least + 1])
                continue
            found, hubs = np.full(self.shape, np.inf), np.zeros(self.shape, dtype=np.int64)
            for number, own in zip(made.tolist(), mine.tolist(), strict=True):
                setups, bundles = self._used(number)
                if setups >= self.shape[0] or bundles >= self.shape[1]:
                    break
                there = (slice(setups, None), slice(bundles, None))
                reached = before[: self.shape[0] - setups, : self.shape[1] - bundles] + own
                better = reached < found[there]
                found[there][better] = reached[better]
                hubs[there][better] = number
            self._put((size, looser), found, each, hubs)

    def _used(self, made: int) -> tuple[int, int]:
        """Give the setups and the bundles that count against the limit."""
        if not self.limited:
            return 0, 0
        setups = int(np.ceil(made / self.stage.shelf.costs.batch_size)) if self._apart else 0
        return setups, made // self.stage.step

    @cached_property
    def _apart(self) -> bool:
        """Whether setups are counted apart from hubs: where money is limited, unless only whole batches are made."""
        costs = self.stage.shelf.costs
        return self.limit.money is not None and costs.setup > 0 and self.stage.step % costs.batch_size != 0

    def _best(self) -> BestQuantities:
        within = self.limit.allows(*self._spent())
        ends = [state for state in self._cost if state[1] == -1]
        least = {state: np.where(within, self._cost[state], np.inf) for state in ends}
        state = min(ends, key=lambda each: float(least[each].min()))
        at = np.unravel_index(int(least[state].argmin()), self.shape)
        cell, cost = (int(at[0]), int(at[1])), float(least[state].min())
        make = np.zeros(self.sizes, dtype=np.int64)
        while state[0] < self.sizes:
            came, hubs = self._from[state]
            number = int(hubs[cell])
            make[state[0]] = number
            used = self._used(number)
            state, cell = (int(came[cell]), state[0]), (cell[0] - used[0], cell[1] - used[1])
        return BestQuantities(make=make, cost=cost, unlimited_hubs=int(make.sum()), limit_costs=0.0)
