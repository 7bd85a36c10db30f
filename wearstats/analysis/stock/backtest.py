"""What would have been short or left over in past quarters, had hubs been made by a rule.

Each rule starts from the shelf as it was, decides at the beginning of every quarter from what was known then, and meets
the needs that came. Its own stock goes on from quarter to quarter, whatever the shop really did.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.stock.quantities import Shelf, run_stage
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.domain.arrays import FloatArray, IntArray

Decide = Callable[[int, FloatArray], FloatArray]
"""From the number of the quarter and the stock on hand, shape (sizes,), to how many of each to make."""

_FEWEST_QUARTERS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuleRun:
    """What a rule came to; arrays of shape (quarters, sizes) unless said.

    Parameters
    ----------
    start, made, needed, lacking, left : ndarray
        Hubs on the shelf at the beginning; made then; needed; needs not served; left at the end.
    filed : ndarray, shape (quarters,)
        Hubs filed out for a looser need.
    cost : ndarray, shape (quarters,)
        Set-up, making, keeping, filing and needs not served, less the price of making what was added to the shelf, so
        that rules that leave different stocks can be compared.
    """

    start: FloatArray
    made: FloatArray
    needed: FloatArray
    lacking: FloatArray
    left: FloatArray
    filed: FloatArray
    cost: FloatArray

    @property
    def fill_rate(self) -> float:
        """Share of all needs served; NaN without any."""
        needed = float(self.needed.sum())
        return 1.0 - float(self.lacking.sum()) / needed if needed else float("nan")


def run_rule(shelves: Sequence[Shelf], before: IntArray, after: IntArray, decide: Decide) -> RuleRun:
    """Run a rule through past quarters.

    Parameters
    ----------
    shelves : sequence of Shelf, length (quarters,)
        Costs, filing, lead time and length of each quarter; only the first one's stock on hand is used.
    before, after : ndarray of int, shape (quarters, sizes)
        Needed until what is made at the beginning is there, and from then to the end of the quarter.
    decide : callable
        See `Decide`.
    """
    stock = np.asarray(shelves[0].on_hand, dtype=float)
    empty = [np.zeros(1)] * stock.size
    starts, mades, lackings, lefts, fileds, costs = [], [], [], [], [], []
    for quarter, shelf in enumerate(shelves):
        now = dataclasses.replace(shelf, on_hand=stock)
        made = np.asarray(decide(quarter, stock), dtype=float)
        one = slice(quarter, quarter + 1)
        ran = run_stage(now, made, before[one], after[one], empty)
        left = ran.left_by_size[0]
        starts.append(stock)
        mades.append(made)
        lackings.append(ran.lacking_by_size[0])
        lefts.append(left)
        fileds.append(float(ran.filed[0]))
        # hubs added to the shelf are given back at their price, or a rule that ends with an empty one would look cheap
        costs.append(float(ran.cost[0]) - shelf.costs.made * float((left - stock).sum()))
        stock = left
    return RuleRun(
        start=np.array(starts),
        made=np.array(mades),
        needed=np.asarray(before + after, dtype=float),
        lacking=np.array(lackings),
        left=np.array(lefts),
        filed=np.array(fileds),
        cost=np.array(costs),
    )


def mean_difference(first: FloatArray, second: FloatArray, *, level: float = 0.95) -> Estimate:
    """Mean of the differences of paired quarters, with Student's interval; none for fewer than three quarters."""
    gap = np.asarray(first - second, dtype=float)
    if gap.size < _FEWEST_QUARTERS:
        return no_estimate(remark(StockRemark.TOO_FEW_QUARTERS, quarters=gap.size))
    half = float(special.stdtrit(gap.size - 1, (1.0 + level) / 2.0)) * float(gap.std(ddof=1)) / np.sqrt(gap.size)
    middle = float(gap.mean())
    return Estimate(
        value=middle,
        low=middle - half,
        high=middle + half,
        level=level,
        method=remark(StockRemark.PAIRED_QUARTERS, quarters=gap.size),
    )
