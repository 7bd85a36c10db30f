"""How many sizes to keep and which, how sure that is, and what else it could have been.

The best set of every number of sizes comes from `wearstats.analysis.stock.sizes.best_sets`; a year costs the mean cost of a
shaft times the shafts of a year, and so much for each size kept. How sure the choice is shows when shafts are drawn
anew and, with each draw, a law of working loose from what is known of it: how often a size is in the best set, and what
the set that is recommended costs more than the one that would then have been best.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.stock.sizes.best_sets import SizeSet, best_sets, cost_of_set, share_not_single_peaked
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns

MOST_SIZES = 15
REPLICATES = 60
NEARLY = 0.01
"""A set of fewer sizes is taken where it costs no more than so much above the cheapest: costs are not known better."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizePlan:
    """The best set of so many sizes.

    Parameters
    ----------
    undersizes_um : tuple of float
        Ascending.
    cost_a_year : Estimate
        Of the shafts of a year and of keeping the sizes.
    cost_a_shaft : Estimate
        Mean cost of a shaft.
    bound_a_year : float
        No set of as many sizes costs less; the same as the cost where the programme is exact.
    unserved_share : float
        Share of shafts that none of them serves.
    """

    undersizes_um: tuple[float, ...]
    cost_a_year: Estimate
    cost_a_shaft: Estimate
    bound_a_year: float
    unserved_share: float

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form."""
        return {
            "k": len(self.undersizes_um),
            "undersizes_um": self.undersizes_um,
            "cost": self.cost_a_year,
            "cost_a_shaft": self.cost_a_shaft,
            "bound": self.bound_a_year,
            "unserved_share": self.unserved_share,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeChoice:
    """Which sizes to keep.

    Parameters
    ----------
    plans : tuple of SizePlan
        For 1, 2, … sizes.
    best : int
        Index of the plan with the fewest sizes of those that cost hardly more (`NEARLY`) a year than the cheapest.
    in_best_set : DataFrame
        ``undersize_um``, ``share`` of the draws in whose best set it is, ``chosen``.
    regret : Estimate
        What the chosen set costs more a year than the best one of the draw; mean, low and high.
    robust_um : tuple of float
        Of the sets that were best in some draw, the one whose regret is least at its worst (95 %).
    same_set_share, same_set_twice : float
        Share of draws in which the chosen set is the best; the same were twice as many shafts on record.
    today : SizePlan or None
        The sizes on offer, where there are any.
    perfect_a_year : float
        Cost of the chosen sizes if every shaft were known exactly.
    symmetric : SizePlan
        As many sizes as chosen, put where the squared distances from what shafts need are least: clusters, for which
        too tight and too loose count alike.
    with_stock : SizePlan or None
        The sizes to keep until the shelf is empty: what lies there of a size counts as paid if it is kept, and as lost
        if not. None where nothing lies there.
    served : DataFrame
        ``shaft_row``, ``undersize_um``: the size that each shaft goes to, NaN where to none.
    shares : ndarray, shape (draws, chosen sizes)
        Share of the shafts that each chosen size serves, shafts drawn anew.
    filing_cost : ndarray, shape (chosen sizes, chosen sizes)
        What it costs more, on average, to serve the shafts of the row's size with the column's; infinite for looser
        ones, and where the shop would not send it to any of them.
    not_single_peaked : float
        Share of shafts whose costs fall and rise more than once.
    """

    plans: tuple[SizePlan, ...]
    best: int
    in_best_set: Annotated[pd.DataFrame, columns(number="undersize_um share", flag="chosen")]
    regret: Estimate
    robust_um: tuple[float, ...]
    same_set_share: float
    same_set_twice: float
    today: SizePlan | None
    perfect_a_year: float
    symmetric: SizePlan
    with_stock: SizePlan | None
    served: Annotated[pd.DataFrame, columns(number="undersize_um", whole="shaft_row")]
    shares: FloatArray
    filing_cost: FloatArray
    not_single_peaked: float

    @property
    def chosen(self) -> SizePlan:
        """The plan that is recommended."""
        return self.plans[self.best]


def choose_sizes(
    costs: PairCosts,
    shaft: IntArray,
    *,
    shafts_a_year: float,
    size_kept: float,
    offered_um: tuple[float, ...],
    need_um: FloatArray,
    on_shelf: dict[float, float] | None = None,
    rng: np.random.Generator,
    most: int = MOST_SIZES,
    replicates: int = REPLICATES,
) -> SizeChoice:
    """Choose.

    Parameters
    ----------
    costs : PairCosts
        Of every occasion on which a hub was chosen, with every size that can be made.
    shaft : ndarray of int, shape (occasions,)
        Which shaft; shafts are drawn anew as a whole.
    shafts_a_year, size_kept : float
        Shafts to serve in a year, and what keeping one size costs a year.
    offered_um : tuple of float
        Sizes on offer today.
    need_um : ndarray, shape (occasions,)
        Undersize whose spaces are as wide as the shaft's splines on average.
    on_shelf : dict of float to float, optional
        What making the hubs cost that lie on the shelf, by undersize.
    rng : Generator
    most, replicates : int
        Largest number of sizes; draws.

    Returns
    -------
    SizeChoice
    """
    whole = costs.whole()
    most = min(most, whole.shape[1])
    drawn = _Draws(costs, shaft, rng, replicates, draws_of=1)
    year = _Year(costs, drawn, whole, shafts_a_year, size_kept)
    sets = best_sets(whole, most=most)
    plans = tuple(year.plan(found) for found in sets)
    totals = np.array([shafts_a_year * found.cost + size_kept * len(found.chosen) for found in sets])
    best = int(np.flatnonzero(totals <= (1.0 + NEARLY) * totals.min())[0])
    chosen = sets[best].chosen
    winners, least = drawn.winners(most, shafts_a_year, size_kept)
    twice, _ = _Draws(costs, shaft, rng, replicates // 2, draws_of=2).winners(most, shafts_a_year, size_kept)
    # against the best of each draw, not of the record: this set was chosen by the record, which would flatter it
    excess = year.each(chosen) - least
    in_set = np.array([[column in winner for column in range(whole.shape[1])] for winner in winners])
    cheapest = np.where(costs.acceptable, whole, np.inf)[:, list(chosen)].argmin(axis=1)
    served = np.where(
        costs.acceptable[:, list(chosen)].any(axis=1),
        costs.undersizes_um[np.array(chosen)][cheapest],
        np.nan,
    )
    today = tuple(int(np.argmin(np.abs(costs.undersizes_um - um))) for um in offered_um)
    apart = (need_um[:, None] - costs.undersizes_um) ** 2
    symmetric = best_sets(apart, most=len(chosen))[-1].chosen
    kept_for_stock = _with_stock(costs, whole, on_shelf or {}, most, shafts_a_year, size_kept)
    return SizeChoice(
        plans=plans,
        best=best,
        in_best_set=pd.DataFrame(
            {
                "undersize_um": costs.undersizes_um,
                "share": in_set.mean(axis=0),
                "chosen": np.isin(np.arange(whole.shape[1]), chosen),
            }
        ),
        regret=Estimate(
            value=float(excess.mean()),
            low=float(np.quantile(excess, 0.025)),
            high=float(np.quantile(excess, 0.975)),
            method=remark(StockRemark.DRAWN_ANEW, times=replicates),
        ),
        robust_um=_robust(costs, year, winners, least),
        same_set_share=float(np.mean([winner == chosen for winner in winners])),
        same_set_twice=float(np.mean([winner == chosen for winner in twice])),
        today=year.plan_of(today) if today else None,
        perfect_a_year=_perfect(costs, chosen, shafts_a_year) + size_kept * len(chosen),
        symmetric=year.plan_of(symmetric),
        with_stock=year.plan_of(kept_for_stock) if kept_for_stock else None,
        served=pd.DataFrame({"shaft_row": np.arange(len(whole)), "undersize_um": served}),
        shares=_shares(served, costs.undersizes_um[np.array(chosen)], drawn.weight),
        filing_cost=_filing_costs(costs, whole, chosen, served),
        not_single_peaked=share_not_single_peaked(whole),
    )


class _Draws:
    """Shafts drawn anew, each time with a law drawn from what is known of it."""

    def __init__(
        self,
        costs: PairCosts,
        shaft: IntArray,
        rng: np.random.Generator,
        replicates: int,
        *,
        draws_of: int,
    ) -> None:
        numbered = np.unique(shaft, return_inverse=True)[1]
        shafts = int(numbered.max()) + 1
        counts = rng.multinomial(draws_of * shafts, np.full(shafts, 1 / shafts), size=replicates)
        self.weight = counts[:, numbered].astype(float)
        laws = len(costs.risk)
        which = np.arange(replicates) % max(laws - 1, 1) + (1 if laws > 1 else 0)
        self.law = np.minimum(which, laws - 1)
        self._cost = {law: costs.whole(law) for law in np.unique(self.law)}

    def __len__(self) -> int:
        return len(self.weight)

    def cost(self, draw: int) -> FloatArray:
        """Costs under the law of a draw."""
        return self._cost[self.law[draw]]

    def winners(self, most: int, shafts_a_year: float, size_kept: float) -> tuple[list[tuple[int, ...]], FloatArray]:
        """Give the best set of every draw, and what it costs a year."""
        found, least = [], []
        for draw in range(len(self)):
            sets = best_sets(self.cost(draw), most=most, weight=self.weight[draw])
            totals = np.array([shafts_a_year * each.cost + size_kept * len(each.chosen) for each in sets])
            found.append(sets[int(np.flatnonzero(totals <= (1.0 + NEARLY) * totals.min())[0])].chosen)
            least.append(float(totals.min()))
        return found, np.array(least)


class _Year:
    """What sets cost a year, on all shafts and in every draw."""

    def __init__(
        self, costs: PairCosts, draws: _Draws, whole: FloatArray, shafts_a_year: float, size_kept: float
    ) -> None:
        self.costs, self.draws, self.whole = costs, draws, whole
        self.shafts, self.size_kept = shafts_a_year, size_kept

    def each(self, chosen: tuple[int, ...]) -> FloatArray:
        """Cost a year in every draw."""
        mean = [
            cost_of_set(self.draws.cost(draw), chosen, weight=self.draws.weight[draw])
            for draw in range(len(self.draws))
        ]
        return np.asarray(self.shafts * np.array(mean) + self.size_kept * len(chosen))

    def plan_of(self, chosen: tuple[int, ...]) -> SizePlan:
        chosen = tuple(sorted(set(chosen)))
        cost = cost_of_set(self.whole, chosen)
        return self.plan(SizeSet(chosen=chosen, cost=cost, bound=cost))

    def plan(self, found: SizeSet) -> SizePlan:
        years = self.each(found.chosen)
        low, high = np.quantile(years, [0.025, 0.975])
        keeping = self.size_kept * len(found.chosen)
        value = self.shafts * found.cost + keeping
        how = remark(StockRemark.MEAN_OVER_SHAFTS)
        columns = list(found.chosen)
        return SizePlan(
            undersizes_um=tuple(float(um) for um in self.costs.undersizes_um[columns]),
            cost_a_year=Estimate(value=value, low=min(low, value), high=max(high, value), method=how),
            cost_a_shaft=Estimate(
                value=found.cost,
                low=(min(low, value) - keeping) / self.shafts,
                high=(max(high, value) - keeping) / self.shafts,
                method=how,
            ),
            bound_a_year=self.shafts * found.bound + keeping,
            unserved_share=float(np.mean(~self.costs.acceptable[:, columns].any(axis=1))),
        )


def _perfect(costs: PairCosts, chosen: tuple[int, ...], shafts_a_year: float) -> float:
    """Cost a year if the truth of every shaft were known: the best of the set draw by draw."""
    least = costs.by_draw[:, list(chosen)].min(axis=1)
    unserved = costs.unserved(costs.fixed + costs.failure_price * costs.risk[0])
    return float(shafts_a_year * np.where(np.isfinite(least), least, unserved[:, None]).mean())


def _shares(served: FloatArray, undersizes_um: FloatArray, weight: FloatArray) -> FloatArray:
    """Share of the shafts that each size serves in every draw, shape (draws, sizes)."""
    goes = served[:, None] == undersizes_um
    return np.asarray(weight @ goes / weight.sum(axis=1, keepdims=True))


def _filing_costs(costs: PairCosts, whole: FloatArray, chosen: tuple[int, ...], served: FloatArray) -> FloatArray:
    """Mean extra cost of serving the row's shafts with the column's tighter size, over those it may be sent to."""
    columns = np.array(chosen)
    extra = np.full((columns.size, columns.size), np.inf)
    for row, own in enumerate(columns):
        mine = served == costs.undersizes_um[own]
        for column in range(row + 1, columns.size):
            may = mine & costs.acceptable[:, columns[column]]
            if 2 * may.sum() > mine.sum():
                extra[row, column] = max(float((whole[may, columns[column]] - whole[may, own]).mean()), 0.0)
        extra[row, row] = 0.0
    return extra


def _with_stock(
    costs: PairCosts,
    whole: FloatArray,
    on_shelf: dict[float, float],
    most: int,
    shafts_a_year: float,
    size_kept: float,
) -> tuple[int, ...]:
    """Choose the sizes again, with what lies on the shelf lost where its size is not kept; none where nothing does."""
    paid = np.array([on_shelf.get(float(um), 0.0) for um in costs.undersizes_um])
    if not paid.any():
        return ()
    sets = best_sets(whole, most=most, keeping=(size_kept - paid) / shafts_a_year)
    least = min(found.cost for found in sets)
    return next(found.chosen for found in sets if found.cost <= least + NEARLY * abs(least))


def _robust(costs: PairCosts, year: _Year, winners: list[tuple[int, ...]], least: FloatArray) -> tuple[float, ...]:
    """Of the sets that won, the one with the least regret at its worst (95 %)."""
    sets = list(dict.fromkeys(winners))
    counts = [winners.count(each) for each in sets]
    often = [sets[index] for index in np.argsort(counts)[::-1][:8]]
    worst = [float(np.quantile(year.each(each) - least, 0.95)) for each in often]
    best = often[int(np.argmin(worst))]
    return tuple(float(costs.undersizes_um[column]) for column in best)
