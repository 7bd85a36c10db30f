"""How many sizes to keep and which, how sure that is, and what else it could have been.

The best set of every number of sizes comes from `best_sets`; a year costs the mean cost of a shaft times the shafts of
a year, so much for each size kept, and what is lost on hubs that lie on the shelf and are used up, spread over the
years that takes. How many: the fewest from which one more saves hardly anything (`enough_sizes`); today's, where no
other set saves more than that. How sure the choice is shows when shafts are drawn anew and, with each draw, a law of
working loose from what is known of it: how often a size is in the best set, and what the set that is recommended costs
more than the one that would then have been best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.analysis.stock.sizes.as_good import sets_as_good
from wearstats.analysis.stock.sizes.best_sets import SizeSet, best_sets, cost_of_set, share_not_single_peaked
from wearstats.analysis.stock.sizes.division import Division, divide_shafts
from wearstats.analysis.stock.sizes.draws import Draws
from wearstats.analysis.stock.sizes.neighbours import Neighbours, neighbours_of
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError, counted

MOST_SIZES = 15
REPLICATES = 60
HARDLY = 0.03
"""Of today's cost: one more size, or other sizes than today's, that save less than this are not worth it; a setting."""
USE_UP_YEARS = 2.0
"""Within which what lies on the shelf is to be used up, and over which what is lost on it is spread; a setting."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizePlan:
    """The best set of so many sizes.

    Parameters
    ----------
    undersizes_um : tuple of float
        Ascending.
    cost_a_year : Estimate
        Of the shafts of a year, of keeping the sizes, and of using up what lies on the shelf of others.
    cost_a_shaft : Estimate
        The same but for keeping the sizes, of a shaft.
    used_up_a_shaft : float
        Of that, what is lost on hubs of other sizes that are used up.
    bound_a_year : float
        No set of as many sizes costs less; the same as the cost where the programme is exact.
    unserved_share : float
        Share of shafts that none of them serves.
    """

    undersizes_um: tuple[float, ...]
    cost_a_year: Estimate
    cost_a_shaft: Estimate
    used_up_a_shaft: float
    bound_a_year: float
    unserved_share: float

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form."""
        return {
            "k": len(self.undersizes_um),
            "undersizes_um": self.undersizes_um,
            "cost": self.cost_a_year,
            "cost_a_shaft": self.cost_a_shaft,
            "used_up_a_shaft": self.used_up_a_shaft,
            "bound": self.bound_a_year,
            "unserved_share": self.unserved_share,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeChoice:
    """Which sizes to keep.

    Parameters
    ----------
    plans : tuple of SizePlan
        For 1, 2, … sizes, as far as they can be told apart.
    chosen : SizePlan
        The plan that is recommended: one of `plans`, or today's.
    asked : bool
        Whether it has so many sizes because that was asked for.
    today : SizePlan or None
        The sizes on offer, where there are any.
    saving : Estimate or None
        What the chosen sizes save a year against today's; None where there are none.
    as_good_um : tuple of tuple of float
        Other sets that cost a year at most a hundredth more: those of `plans`, today's, the chosen with one size moved.
    falls_out : tuple of Remark
        Why sizes on offer today are not among the chosen ones, one each.
    in_best_set : DataFrame
        ``undersize_um``, ``share`` of the draws in whose best set of as many sizes it is, ``chosen``.
    regret : Estimate
        What the chosen set costs more a year than the best one of as many sizes of the draw; mean, low and high.
    robust_um : tuple of float
        Of the sets that were best in some draw, the one whose regret is least at its worst (95 %).
    same_set_share, same_set_twice : float
        Share of draws in which the chosen set is the best; the same were twice as many shafts on record.
    perfect_a_year : float
        Cost of the chosen sizes if every shaft were known exactly.
    symmetric : SizePlan
        As many sizes as chosen, put where the squared distances from what shafts need are least: clusters, for which
        too tight and too loose count alike.
    served : DataFrame
        ``shaft_row``, ``undersize_um``: the chosen size that each shaft goes to, NaN where to none.
    now : Division
        The shafts divided among the chosen sizes and those that lie on the shelf.
    not_single_peaked : float
        Share of shafts whose costs fall and rise more than once.
    """

    plans: tuple[SizePlan, ...]
    chosen: SizePlan
    asked: bool
    today: SizePlan | None
    saving: Estimate | None
    as_good_um: tuple[tuple[float, ...], ...]
    falls_out: tuple[Remark, ...]
    in_best_set: Annotated[pd.DataFrame, columns(number="undersize_um share", flag="chosen")]
    regret: Estimate
    robust_um: tuple[float, ...]
    same_set_share: float
    same_set_twice: float
    perfect_a_year: float
    symmetric: SizePlan
    served: Annotated[pd.DataFrame, columns(number="undersize_um", whole="shaft_row")]
    now: Division
    not_single_peaked: float

    @property
    def keeps_today(self) -> bool:
        """Whether the sizes on offer today are the chosen ones."""
        return self.today is not None and self.today.undersizes_um == self.chosen.undersizes_um


def enough_sizes(totals: Sequence[float], *, today: float | None, hardly: float = HARDLY) -> int | None:
    """Say how many sizes are enough: the fewest from which one more saves hardly anything.

    They must save more than that themselves against today's: nobody changes his sizes for less.

    Parameters
    ----------
    totals : sequence of float
        Cost a year of the best set of 1, 2, … sizes.
    today : float or None
        Of today's sizes; without any, the least of `totals` stands for it.
    hardly : float
        What is hardly anything, as a share of today's cost.

    Returns
    -------
    int or None
        1 or more; None where today's sizes are to be kept, for no others save more than hardly anything.
    """
    little = hardly * (min(totals) if today is None else today)
    if today is not None and today - min(totals) < little:
        return None
    for number, here in enumerate(totals, start=1):
        saved = here - totals[number] if number < len(totals) else 0.0
        if saved < little and (today is None or today - here >= little):
            return number
    # only where nothing costs anything
    return totals.index(min(totals)) + 1


def choose_sizes(
    costs: PairCosts,
    shaft: IntArray,
    *,
    shafts_a_year: float,
    size_kept: float,
    offered_um: tuple[float, ...],
    need_um: FloatArray,
    apart_um: float = 0.0,
    on_shelf: dict[float, float] | None = None,
    made: float = 0.0,
    held: float = 0.0,
    sizes: int | None = None,
    rng: np.random.Generator,
    most: int = MOST_SIZES,
    replicates: int = REPLICATES,
) -> SizeChoice:
    """Choose.

    Parameters
    ----------
    costs : PairCosts
        Of every occasion on which a hub was chosen, with every size that can be made or lies there.
    shaft : ndarray of int, shape (occasions,)
        Which shaft; shafts are drawn anew as a whole.
    shafts_a_year, size_kept : float
        Shafts to serve in a year, and what keeping one size costs a year.
    offered_um : tuple of float
        Sizes on offer today.
    need_um : ndarray, shape (occasions,)
        Undersize whose spaces are as wide as the shaft's splines on average.
    apart_um : float
        Spread of the hubs of one size: sizes closer than that cannot be told apart.
    on_shelf : dict of float to float, optional
        Hubs that lie on the shelf, by undersize.
    made, held : float
        What making a hub costs, and keeping one on the shelf for a year.
    sizes : int, optional
        How many sizes are asked for.
    rng : Generator
    most, replicates : int
        Largest number of sizes; draws.

    Returns
    -------
    SizeChoice

    Raises
    ------
    AnalysisError
        When so many sizes as are asked for cannot be told apart.
    """
    whole, lying = costs.whole(), on_shelf or {}
    neighbours = neighbours_of(
        whole,
        costs.undersizes_um,
        apart_um=apart_um,
        lying=np.array([lying.get(float(um), 0.0) for um in costs.undersizes_um]),
        made=made,
        lies=held * USE_UP_YEARS / 2,
        needs=USE_UP_YEARS * shafts_a_year,
    )
    drawn = Draws(costs, shaft, neighbours, replicates=replicates, rng=rng)
    year = _Year(costs, drawn, neighbours, whole, shafts_a_year, size_kept)
    sets = best_sets(whole, most=min(max(most, sizes or 0), whole.shape[1]), neighbours=neighbours)
    plans = tuple(year.plan(found) for found in sets)
    offered = tuple(sorted({int(np.argmin(np.abs(costs.undersizes_um - um))) for um in offered_um}))
    today = year.plan_of(offered) if offered else None
    chosen = _choose([each.chosen for each in sets], year, offered, sizes, apart_um)
    others = [*(each.chosen for each in sets), *([offered] if offered else [])]
    as_good = sets_as_good(year.total, chosen, others, apart=neighbours.apart)
    number = len(chosen)
    best = drawn.best(number)
    twice = Draws(costs, shaft, neighbours, replicates=replicates // 2, draws_of=2, rng=rng).best(number)
    # against the best of each draw, not of the record: this set was chosen by the record, which would flatter it
    excess = shafts_a_year * (drawn.each(chosen) - np.array([each.cost for each in best]))
    divided = divide_shafts(costs, whole, chosen, drawn.weight)
    there = {int(np.argmin(np.abs(costs.undersizes_um - um))) for um, hubs in lying.items() if hubs > 0}
    apart = (need_um[:, None] - costs.undersizes_um) ** 2
    return SizeChoice(
        plans=plans,
        chosen=next((plan for plan, found in zip(plans, sets, strict=True) if found.chosen == chosen), None)
        or year.plan_of(chosen),
        asked=sizes is not None,
        today=today,
        saving=year.saving(chosen, offered) if offered else None,
        as_good_um=tuple(year.undersizes_um(each) for each in as_good),
        falls_out=_falls_out(year, chosen, offered),
        in_best_set=pd.DataFrame(
            {
                "undersize_um": costs.undersizes_um,
                "share": np.mean([np.isin(np.arange(whole.shape[1]), each.chosen) for each in best], axis=0),
                "chosen": np.isin(np.arange(whole.shape[1]), chosen),
            }
        ),
        regret=Estimate(
            value=float(excess.mean()),
            low=float(np.quantile(excess, 0.025)),
            high=float(np.quantile(excess, 0.975)),
            method=remark(StockRemark.DRAWN_ANEW, times=replicates),
        ),
        robust_um=_robust(costs, drawn, best),
        same_set_share=float(np.mean([each.chosen == chosen for each in best])),
        same_set_twice=float(np.mean([each.chosen == chosen for each in twice])),
        perfect_a_year=_perfect(costs, chosen, shafts_a_year) + size_kept * number,
        symmetric=year.plan_of(best_sets(apart, most=number)[-1].chosen),
        served=pd.DataFrame({"shaft_row": np.arange(len(whole)), "undersize_um": divided.served}),
        now=divide_shafts(costs, whole, tuple(sorted({*chosen, *there})), drawn.weight),
        not_single_peaked=share_not_single_peaked(whole),
    )


def _choose(
    sets: list[tuple[int, ...]], year: _Year, offered: tuple[int, ...], sizes: int | None, apart_um: float
) -> tuple[int, ...]:
    """Take the set asked for; else today's, unless others save more than hardly anything; else the fewest enough."""
    if sizes is not None:
        if sizes > len(sets):
            raise AnalysisError(
                f"{sizes} sizes cannot be told apart: hubs of one size spread over {apart_um:.0f} um",
                needed=f"ask for at most {counted(len(sets), 'size')}",
            )
        return sets[sizes - 1]
    totals = [year.total(chosen) for chosen in sets]
    number = enough_sizes(totals, today=year.total(offered) if offered else None)
    return offered if number is None else sets[number - 1]


class _Year:
    """What sets cost a year, on all shafts and in every draw."""

    def __init__(
        self,
        costs: PairCosts,
        draws: Draws,
        neighbours: Neighbours,
        whole: FloatArray,
        shafts_a_year: float,
        size_kept: float,
    ) -> None:
        self.costs, self.draws, self.neighbours, self.whole = costs, draws, neighbours, whole
        self.shafts, self.size_kept = shafts_a_year, size_kept

    def total(self, chosen: tuple[int, ...]) -> float:
        """Cost a year."""
        return self.shafts * self.a_shaft(chosen) + self.size_kept * len(chosen)

    def a_shaft(self, chosen: tuple[int, ...]) -> float:
        """Mean cost of a shaft."""
        return cost_of_set(self.whole, chosen) + self.neighbours.of(chosen)

    def each(self, chosen: tuple[int, ...]) -> FloatArray:
        """Cost a year in every draw."""
        return self.shafts * self.draws.each(chosen) + self.size_kept * len(chosen)

    def undersizes_um(self, chosen: tuple[int, ...]) -> tuple[float, ...]:
        """Name a set by its undersizes."""
        return tuple(float(um) for um in self.costs.undersizes_um[list(chosen)])

    def plan_of(self, chosen: tuple[int, ...]) -> SizePlan:
        cost = self.a_shaft(chosen)
        return self.plan(SizeSet(chosen=chosen, cost=cost, bound=cost))

    def plan(self, found: SizeSet) -> SizePlan:
        low, high = np.quantile(self.each(found.chosen), [0.025, 0.975])
        keeping = self.size_kept * len(found.chosen)
        value = self.shafts * found.cost + keeping
        how = remark(StockRemark.MEAN_OVER_SHAFTS)
        columns = list(found.chosen)
        a_shaft = max(self.shafts, 1e-9)
        return SizePlan(
            undersizes_um=self.undersizes_um(found.chosen),
            cost_a_year=Estimate(value=value, low=min(low, value), high=max(high, value), method=how),
            cost_a_shaft=Estimate(
                value=found.cost,
                low=(min(low, value) - keeping) / a_shaft,
                high=(max(high, value) - keeping) / a_shaft,
                method=how,
            ),
            used_up_a_shaft=self.neighbours.of(found.chosen),
            bound_a_year=self.shafts * found.bound + keeping,
            unserved_share=float(np.mean(~self.costs.acceptable[:, columns].any(axis=1))),
        )

    def saving(self, chosen: tuple[int, ...], offered: tuple[int, ...]) -> Estimate:
        """Estimate what the chosen sizes save a year against those on offer, draw by draw."""
        value = self.total(offered) - self.total(chosen)
        low, high = np.quantile(self.each(offered) - self.each(chosen), [0.025, 0.975])
        how = remark(StockRemark.MEAN_OVER_SHAFTS)
        return Estimate(value=value, low=min(low, value), high=max(high, value), method=how)


def _falls_out(year: _Year, chosen: tuple[int, ...], offered: tuple[int, ...]) -> tuple[Remark, ...]:
    """Say of every size on offer that is not chosen why."""
    found = []
    undersizes = year.costs.undersizes_um
    for size in sorted(set(offered) - set(chosen)):
        near = chosen[int(np.abs(undersizes[list(chosen)] - undersizes[size]).argmin())]
        um = float(undersizes[size])
        if not year.neighbours.apart[size, near]:
            found.append(remark(StockRemark.TOO_NEAR, undersize_um=um, kept_um=float(undersizes[near])))
            continue
        spared = cost_of_set(year.whole, chosen) - cost_of_set(year.whole, tuple(sorted({*chosen, size})))
        saved = year.shafts * spared
        found.append(remark(StockRemark.SAVES_LITTLE, undersize_um=um, saved=saved, keeping=year.size_kept))
    return tuple(found)


def _perfect(costs: PairCosts, chosen: tuple[int, ...], shafts_a_year: float) -> float:
    """Cost a year if the truth of every shaft were known: the best of the set draw by draw."""
    least = costs.by_draw[:, list(chosen)].min(axis=1)
    unserved = costs.unserved(costs.fixed + costs.failure_price * costs.risk[0])
    return float(shafts_a_year * np.where(np.isfinite(least), least, unserved[:, None]).mean())


def _robust(costs: PairCosts, drawn: Draws, best: list[SizeSet]) -> tuple[float, ...]:
    """Of the sets that won, the one with the least regret at its worst (95 %)."""
    winners, least = [each.chosen for each in best], np.array([each.cost for each in best])
    sets = list(dict.fromkeys(winners))
    counts = [winners.count(each) for each in sets]
    often = [sets[index] for index in np.argsort(counts)[::-1][:8]]
    worst = [float(np.quantile(drawn.each(each) - least, 0.95)) for each in often]
    return tuple(float(costs.undersizes_um[column]) for column in often[int(np.argmin(worst))])
