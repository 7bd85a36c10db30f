"""When to make more of one size, and how many: set-up against keeping, over many chances to make some.

There is a chance to make hubs once in a while; what is made then is there after the lead time, before the next chance.
A stage is the time from one chance to the next. Its cost is set-up and making, keeping what lies there, and needs that
nothing served; hubs left at the end are worth what they spare later. The least expected cost from every stock on hand
is found exactly by going back from a far stage (Scarf 1959: with a set-up the best rule waits until stock is low, then
makes many).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray

DAYS_A_YEAR = 365.25
STAGES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class StockCosts:
    """What stock costs, all in one currency.

    Parameters
    ----------
    setup : float
        Setting up once, for as many as `batch_size`.
    made : float
        Making one hub.
    held : float
        Keeping one hub a year.
    lacking : float
        A need that nothing serves.
    batch_size : float
        Most that are made on one setting-up; a whole number, unless hubs are counted in bundles.
    """

    setup: float
    made: float
    held: float
    lacking: float
    batch_size: float

    def making(self, quantity: FloatArray) -> FloatArray:
        """Cost of making so many of one size; any shape."""
        return np.asarray(self.setup * np.ceil(quantity / self.batch_size) + self.made * quantity)


def lacking_cost(*, lost_sale: float, special: float, made: float) -> float:
    """Cost of a need that no hub serves: the sale lost, or a special, whichever is less.

    A sale pays back what the hub cost to make, and `lost_sale` is what is lost beside that; a special costs all of
    `special`, and the sale pays back a hub.
    """
    return min(special, lost_sale + made)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Restocking:
    """The best rule for one size; arrays of shape (stocks,), by hubs on hand at a chance.

    Parameters
    ----------
    make : ndarray
        How many to make.
    value : ndarray
        Expected cost from now on, up to a constant: what a hub on hand spares is the fall from one to the next.
    """

    make: FloatArray
    value: FloatArray


def best_restocking(
    before: FloatArray,
    after: FloatArray,
    costs: StockCosts,
    *,
    lead_days: float,
    stage_days: float,
    most: int,
    may_make: bool = True,
) -> Restocking:
    """Find the rule of least expected cost for one size.

    Parameters
    ----------
    before, after : ndarray, shape (counts,)
        Probability of a demand of 0, 1, … from a chance until what was made then is there, and from then until the
        next chance; each sums to one. Stages are taken to be alike and independent.
    costs : StockCosts
        The costs.
    lead_days, stage_days : float
        From a chance to the new hubs, and to the next chance; the first at most the second.
    most : int
        Most hubs that are ever on hand.
    may_make : bool
        Whether any may be made; where not, hubs left at last are worth nothing.

    Returns
    -------
    Restocking
    """
    stock = np.arange(most + 1, dtype=float)
    first, lost_first = _after_demand(before, most)
    second, lost_second = _after_demand(after, most)
    keep_first = costs.held * lead_days / DAYS_A_YEAR * (stock + first @ stock) / 2.0
    keep_second = costs.held * (stage_days - lead_days) / DAYS_A_YEAR * (stock + second @ stock) / 2.0
    # from what is left when the new hubs come (rows) by how many come (columns)
    reached = stock[:, None] + stock[None, :]
    too_many = reached > most
    at = np.minimum(reached, most).astype(np.int64)
    making = costs.making(stock)
    value = -costs.made * stock if may_make else np.zeros(most + 1)
    make = np.zeros(most + 1)
    for _ in range(STAGES):
        level = keep_second + costs.lacking * lost_second + second @ value
        # adding more than the shelf holds never happens: from any stock on hand, before demand
        choice = first @ level[at] + making
        choice[too_many] = np.inf
        if not may_make:
            choice[:, 1:] = np.inf
        make = choice.argmin(axis=1).astype(float)
        value = choice.min(axis=1) + keep_first + costs.lacking * lost_first
    return Restocking(make=make, value=value)


def _after_demand(chance: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """Transition from stock to what is left of it, shape (stocks, stocks), and expected needs not served."""
    stock = np.arange(most + 1)
    full = np.zeros(most + 1)
    full[: min(chance.size, most + 1)] = chance[: most + 1]
    gap = stock[:, None] - stock[None, :]
    moved = np.where(gap >= 0, full[np.maximum(gap, 0)], 0.0)
    moved[:, 0] = 1.0 - moved[:, 1:].sum(axis=1)
    count = np.arange(chance.size)
    lost = np.maximum(count[None, :] - stock[:, None], 0) @ chance
    return moved, np.asarray(lost, dtype=float)
