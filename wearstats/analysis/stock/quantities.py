"""What quantities come to: the shelf, each size's own rule, and the time until the next chance to make some simulated.

What is made is there after the lead time. A stage costs set-up, making, keeping, filing tighter hubs out where a size
has run out, and needs not served. Stock left at the end counts by what it spares later, from each size's own rule, so
that one set-up may cover several quarters. `best_quantities` chooses by this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.stock.demand import interval_of
from wearstats.analysis.stock.lot_sizes import DAYS_A_YEAR, Restocking, StockCosts, best_restocking
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.analysis.stock.substitution import serve
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

_MOST_STEPS = 300


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shelf:
    """What the quantities are chosen for; arrays of shape (sizes,) unless said.

    Parameters
    ----------
    on_hand : ndarray
        Hubs on the shelf now.
    may_make : ndarray of bool
        Whether the size is kept; what lies there of others is used up.
    filing : ndarray, shape (sizes, sizes)
        From `substitution.one_way`.
    costs : StockCosts
        The costs.
    lead_days, stage_days : float
        Until what is made now is there; until the next chance to make some.
    """

    on_hand: FloatArray
    may_make: BoolArray
    filing: FloatArray
    costs: StockCosts
    lead_days: float
    stage_days: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """What happens until the next chance; arrays of shape (draws,).

    Parameters
    ----------
    cost : ndarray
        Set-up, making, keeping, filing and needs not served, without the worth of what is left.
    needed, lacking, filed, left : ndarray
        Hubs needed, needs not served, hubs filed out for a looser need, hubs left at the end.
    later : ndarray
        What the stock left spares later, with the sign of a cost.
    lacking_by_size, left_by_size : ndarray, shape (draws, sizes)
        Needs not served; hubs left at the end.
    """

    cost: FloatArray
    needed: FloatArray
    lacking: FloatArray
    filed: FloatArray
    left: FloatArray
    later: FloatArray
    lacking_by_size: FloatArray
    left_by_size: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityCheck:
    """Simulated stages with the quantities chosen, drawn apart from those by which they were chosen.

    Parameters
    ----------
    fill_rate, lacking, filed, left, cost : Estimate
        Share of needs served; needs not served, hubs filed out, hubs left, cost, each until the next chance: the mean,
        and the interval in which nine of ten drawn stages lie.
    spared : Estimate
        What making them spares against making none now, what is left at the end counted in both by what it spares
        later; on the same drawn needs.
    """

    fill_rate: Estimate
    lacking: Estimate
    filed: Estimate
    left: Estimate
    cost: Estimate
    spared: Estimate


def size_rules(shelf: Shelf, before: IntArray, after: IntArray) -> list[Restocking]:
    """Find each size's own rule, by its own needs alone.

    A size that is no longer kept is never made again; what it then lacks is made of the next tighter one kept.

    Parameters
    ----------
    shelf : Shelf
    before, after : ndarray of int, shape (draws, sizes)
        Demand until what is made now is there, and from then until the next chance.
    """
    rules = []
    costs = shelf.costs
    for size in range(before.shape[1]):
        mean = float(before[:, size].mean() + after[:, size].mean())
        # far above what the balance of set-up against keeping would ever put there
        lot = np.sqrt(2.0 * costs.setup * mean * DAYS_A_YEAR / shelf.stage_days / max(costs.held, 1e-9))
        peak = float(before[:, size].max() + after[:, size].max())
        most = min(2.0 * lot, 8.0 * mean) + peak + 2.0
        may_make, lacking = bool(shelf.may_make[size]), costs.lacking
        if not may_make:
            most = max(most, float(shelf.on_hand[size]))
            extra = shelf.filing[size, np.flatnonzero(shelf.may_make & (np.arange(before.shape[1]) > size))]
            lacking = min(lacking, costs.made + float(extra[0])) if extra.size else lacking
        # many hubs are counted in bundles, or the programme takes minutes
        bundle = int(np.ceil(most / _MOST_STEPS))
        rule = best_restocking(
            _chances(before[:, size], bundle),
            _chances(after[:, size], bundle),
            StockCosts(
                setup=costs.setup,
                made=costs.made * bundle,
                held=costs.held * bundle,
                lacking=lacking * bundle,
                batch_size=costs.batch_size / bundle,
            ),
            lead_days=shelf.lead_days,
            stage_days=shelf.stage_days,
            most=int(np.ceil(most / bundle)),
            may_make=may_make,
        )
        rules.append(_unbundled(rule, bundle))
    return rules


def run_stage(shelf: Shelf, make: FloatArray, before: IntArray, after: IntArray, values: list[FloatArray]) -> Stage:
    """Run drawn stages with the quantities given.

    Parameters
    ----------
    shelf : Shelf
    make : ndarray, shape (sizes,) or (draws, sizes)
        Made now.
    before, after : ndarray of int, shape (draws, sizes)
        Demand until it is there, and from then until the next chance.
    values : list of ndarray
        What each size's stock at the end costs from then on, by hubs left; beyond its end as at its end.
    """
    costs = shelf.costs
    worth = np.full(before.shape[1], costs.lacking - costs.made)
    start = np.broadcast_to(shelf.on_hand, before.shape)
    first = serve(start, before, shelf.filing, worth)
    put = first.left + make
    second = serve(put, after, shelf.filing, worth)
    lead, rest = shelf.lead_days / DAYS_A_YEAR, (shelf.stage_days - shelf.lead_days) / DAYS_A_YEAR
    kept = lead * (start + first.left).sum(axis=1) / 2.0 + rest * (put + second.left).sum(axis=1) / 2.0
    lacking = first.lacking + second.lacking
    later = np.zeros(len(before))
    for size, value in enumerate(values):
        left = second.left[:, size].astype(np.int64)
        # what lies there beyond all that any rule would have spares nothing more
        later += value[np.minimum(left, value.size - 1)]
    making = costs.making(make).sum(axis=-1)
    return Stage(
        cost=making + costs.held * kept + first.filing_cost + second.filing_cost + costs.lacking * lacking.sum(axis=1),
        needed=np.asarray((before + after).sum(axis=1), dtype=float),
        lacking=lacking.sum(axis=1),
        filed=first.filed + second.filed,
        left=second.left.sum(axis=1),
        later=later,
        lacking_by_size=lacking,
        left_by_size=second.left,
    )


def check_quantities(
    shelf: Shelf, make: IntArray, before: IntArray, after: IntArray, rules: list[Restocking], *, level: float = 0.9
) -> QuantityCheck:
    """Simulate stages with the quantities chosen; `before` and `after` drawn apart from those they were chosen by."""
    values = [rule.value for rule in rules]
    ran = run_stage(shelf, np.asarray(make, dtype=float), before, after, values)
    idle = run_stage(shelf, np.zeros(make.size), before, after, values)
    method = remark(StockRemark.STAGES_SIMULATED, stages=len(before))
    rate = np.divide(ran.lacking, ran.needed, out=np.zeros(len(before)), where=ran.needed > 0)
    share = interval_of(1.0 - rate, level=level, method=method)
    needed = float(ran.needed.sum())
    return QuantityCheck(
        fill_rate=Estimate(
            value=1.0 - float(ran.lacking.sum()) / needed if needed else None,
            low=share.low,
            high=share.high,
            level=level,
            method=method,
        ),
        lacking=interval_of(ran.lacking, level=level, method=method),
        filed=interval_of(ran.filed, level=level, method=method),
        left=interval_of(ran.left, level=level, method=method),
        cost=interval_of(ran.cost, level=level, method=method),
        spared=interval_of(idle.cost + idle.later - ran.cost - ran.later, level=level, method=method),
    )


def _chances(counts: IntArray, bundle: int) -> FloatArray:
    """Chances of a demand of 0, 1, … bundles; a part of one counts in proportion as a whole one or none."""
    whole, part = np.divmod(counts, bundle)
    share = part / bundle
    chances = np.bincount(np.concatenate([whole, whole + 1]), weights=np.concatenate([1.0 - share, share]))
    return np.asarray(np.trim_zeros(chances, "b") / counts.size, dtype=float)


def _unbundled(rule: Restocking, bundle: int) -> Restocking:
    """Give the rule by single hubs."""
    if bundle == 1:
        return rule
    steps = np.arange(rule.make.size) * bundle
    stock = np.arange(steps[-1] + 1)
    return Restocking(
        make=np.asarray(rule.make[stock // bundle] * bundle), value=np.asarray(np.interp(stock, steps, rule.value))
    )
