"""What past quarters would have been like: short and left over, by this rule and by last year's habit."""

from __future__ import annotations

import dataclasses
import datetime
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.backtest import Decide, RuleRun, mean_difference, run_rule
from wearstats.analysis.stock.best_quantities import best_quantities
from wearstats.analysis.stock.demand import divide_demand, fit_demand
from wearstats.analysis.stock.quantities import Shelf, size_rules
from wearstats.analysis.stock.substitution import one_way
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.prices import prices_of
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.production import stock_costs
from wearstats.studies.stock.records import LOST, Needs, nearest_size, read_making, read_needs
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.shelf import QUARTER_DAYS, stage_edges

THIS_RULE, HABIT = "this rule", "last year's habit"
_DRAWS = 1000

SharesThen = Callable[[datetime.date], FloatArray]
"""From a day to the shares of the sizes as they were known then, shape (sizes,) or (share draws, sizes)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StockBacktest:
    """Past quarters by both rules.

    Parameters
    ----------
    quarters : tuple of str
        Those run through, as 2026Q3.
    undersizes_um : tuple of float
        Sizes on offer in any of them.
    runs : dict of str to RuleRun
        ``this rule`` and ``last year's habit``.
    cost_difference : Estimate
        Of a quarter, this rule minus habit.
    currency : str
        Of costs.
    habit : Remark
        What last year's habit was taken from.
    """

    quarters: tuple[str, ...]
    undersizes_um: tuple[float, ...]
    runs: dict[str, RuleRun]
    cost_difference: Estimate
    currency: str
    habit: Remark

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form."""
        return {
            "quarters": self.quarters,
            "habit": self.habit,
            "rules": {
                rule: {
                    "needed": int(run.needed.sum()),
                    "lacking": int(run.lacking.sum()),
                    "fill_rate": run.fill_rate,
                    "filed": int(run.filed.sum()),
                    "made": int(run.made.sum()),
                    "left_at_end": int(run.left[-1].sum()),
                    "left_mean": run.left.sum(axis=1).mean(),
                    "cost": run.cost.sum(),
                }
                for rule, run in self.runs.items()
            },
            "cost_difference_a_quarter": self.cost_difference,
            "currency": self.currency,
        }


def study_stock_backtest(
    snapshot: Snapshot,
    pattern: str,
    *,
    shares_then: SharesThen | None = None,
    filing_cost_um: float | None = None,
) -> StockBacktest:
    """Run past quarters by the rule of `study_make_now` and by last year's habit.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked; the last quarter run through ended by its day, and by the day up to which the records reach.
    pattern : str
    shares_then : callable, optional
        Shares of the sizes of `undersizes_um` as known on a day. Without it, shares are those of the hubs sent by then.
    filing_cost_um : float, optional
        Cost of filing a hub out by a micrometre of undersize; without it no hub serves another size's need.

    Returns
    -------
    StockBacktest
        Quarters from a year after the first need on. Sizes are those on offer then; what was needed is put down to
        the size nearest to the hub that was sent.

    Raises
    ------
    AnalysisError
        When less than a year and a quarter is on record, no size was on offer, or a price is missing.
    """
    needs, draws = read_needs(snapshot, pattern), snapshot.draws.within("stock", pattern)
    days = _quarter_ends(needs)
    # as it was known then, prices too
    then = {day: snapshot.at(day, models_from=day) for day in days[:-1]}
    offered = {day: _offered(known, pattern) for day, known in then.items()}
    undersizes = np.unique(np.concatenate(list(offered.values())))
    if undersizes.size == 0:
        raise AnalysisError(
            f"pattern {pattern!r}: no size was on offer in the quarters on record",
            needed="add undersizes_offered.csv (pattern, undersize_um, from_on)",
        )
    known = {day: read_needs(earlier, pattern) for day, earlier in then.items()}
    shares = [_shares(known[day], undersizes, shares_then, day) for day in days[:-1]]
    shelves = [
        _shelf(then[day], pattern, undersizes, offered[day], filing_cost_um, (end - day).days)
        for day, end in itertools.pairwise(days)
    ]
    before, after = _what_came(needs, days, shelves, undersizes, shares, rng=draws.generator("sizes of lost needs"))
    habit, taken_from = _habit(snapshot, pattern, needs, days, undersizes, shelves)
    runs = {
        THIS_RULE: run_rule(
            shelves, before, after, _this_rule([known[day] for day in days[:-1]], shelves, shares, draws)
        ),
        HABIT: run_rule(shelves, before, after, lambda quarter, _: habit[quarter]),
    }
    return StockBacktest(
        quarters=tuple(str(pd.Timestamp(day).to_period("Q")) for day in days[1:]),
        undersizes_um=tuple(float(undersize) for undersize in undersizes),
        runs=runs,
        cost_difference=mean_difference(runs[THIS_RULE].cost, runs[HABIT].cost),
        currency=prices_of(snapshot, pattern).currency or "",
        habit=taken_from,
    )


def _quarter_ends(needs: Needs) -> list[datetime.date]:
    """Give the ends of quarters from a year after the first need to the day up to which the records reach."""
    ends: list[datetime.date] = []
    if not needs.rows.empty:
        first = needs.rows["needed_on"].min() + pd.DateOffset(years=1) - pd.Timedelta(days=QUARTER_DAYS / 2)
        last = pd.Timestamp(needs.until) + pd.Timedelta(days=1)
        ends = [
            (quarter.start_time - pd.Timedelta(days=1)).date()
            for quarter in pd.period_range(first, last, freq="Q")
            if quarter.start_time > first
        ]
    if len(ends) < 2:
        raise AnalysisError(
            f"less than a year and a quarter of orders is on record by {needs.until}: too little to try rules on it",
            needed="ask again when more quarters have passed, or add earlier orders",
        )
    return ends


def _offered(snapshot: Snapshot, pattern: str) -> FloatArray:
    rows = snapshot.query("stock/sizes_known")
    return rows.loc[(rows["pattern"] == pattern) & rows["offered"], "undersize_um"].to_numpy(dtype=float)


def _shares(known: Needs, undersizes: FloatArray, then: SharesThen | None, day: datetime.date) -> FloatArray:
    if then is not None:
        return np.atleast_2d(np.asarray(then(day), dtype=float))
    sent = known.by_size(undersizes) + 0.5
    return np.asarray((sent / sent.sum())[None, :])


def _shelf(
    snapshot: Snapshot,
    pattern: str,
    undersizes: FloatArray,
    offered: FloatArray,
    filing_cost_um: float | None,
    stage_days: int,
) -> Shelf:
    """Lay out the shelf as it was known on a day."""
    making = read_making(snapshot, pattern)
    found = snapshot.query("stock/on_hand", pattern=pattern)
    lying = found[found["on_hand"] > 0]
    place = nearest_size(lying["undersize_um"].to_numpy(dtype=float), undersizes)
    step = np.maximum(undersizes[None, :] - undersizes[:, None], 0.0)
    filing = np.full(step.shape, np.inf) if filing_cost_um is None else filing_cost_um * step
    return Shelf(
        on_hand=_by_place(place, lying["on_hand"], undersizes.size),
        may_make=np.isin(undersizes, offered),
        filing=one_way(filing, undersizes),
        costs=stock_costs(prices_of(snapshot, pattern), making),
        lead_days=float(min(making.lead_days, stage_days)),
        stage_days=float(stage_days),
    )


def _by_place(place: IntArray, number: pd.Series[int], sizes: int) -> FloatArray:
    return np.asarray(np.bincount(place, weights=number.to_numpy(dtype=float), minlength=sizes), dtype=float)


def _what_came(
    needs: Needs,
    days: list[datetime.date],
    shelves: list[Shelf],
    undersizes: FloatArray,
    shares: list[FloatArray],
    *,
    rng: np.random.Generator,
) -> tuple[IntArray, IntArray]:
    """Needs of each quarter until what was made is there and after, shape (quarters, sizes) each."""
    parts: tuple[list[FloatArray], list[FloatArray]] = ([], [])
    for day, end, shelf, share in zip(days[:-1], days[1:], shelves, shares, strict=True):
        there = min(day + datetime.timedelta(days=int(shelf.lead_days)), end)
        mean = share.mean(axis=0)
        for part, begin, until in ((parts[0], day, there), (parts[1], there, end)):
            came = needs.between(begin, until)
            unknown = came.rows["fate"].isin([*LOST, "open"]) | came.rows["undersize_um"].isna()
            lost = int(came.rows.loc[unknown, "hubs"].sum())
            part.append(came.by_size(undersizes) + rng.multinomial(lost, mean / mean.sum()))
    return np.array(parts[0]).astype(np.int64), np.array(parts[1]).astype(np.int64)


def _habit(
    snapshot: Snapshot,
    pattern: str,
    needs: Needs,
    days: list[datetime.date],
    undersizes: FloatArray,
    shelves: list[Shelf],
) -> tuple[FloatArray, Remark]:
    """Give what was made in the quarter a year before, or sent where no batch is known; shape (quarters, sizes)."""
    batches = snapshot.query("stock/batches", pattern=pattern)
    made_on = pd.to_datetime(batches["made_on"])
    rows = []
    for day, end, shelf in zip(days[:-1], days[1:], shelves, strict=True):
        begin_then, end_then = (pd.Timestamp(d) - pd.DateOffset(years=1) for d in (day, end))
        if batches.empty:
            row = needs.between(begin_then.date(), end_then.date()).by_size(undersizes)
        else:
            mine = batches[(made_on > begin_then) & (made_on <= end_then)]
            place = nearest_size(mine["undersize_um"].to_numpy(dtype=float), undersizes)
            row = _by_place(place, mine["made"], undersizes.size)
        rows.append(np.where(shelf.may_make, row, 0.0))
    return np.array(rows), remark(StockStudyRemark.HABIT_SENT if batches.empty else StockStudyRemark.HABIT_MADE)


def _this_rule(known: list[Needs], shelves: list[Shelf], shares: list[FloatArray], draws: NamedDraws) -> Decide:
    """Make the rule of `study_make_now`, with what was known at each beginning."""

    def decide(quarter: int, stock: FloatArray) -> FloatArray:
        shelf = shelves[quarter]
        fit = fit_demand(known[quarter].record())
        edges = stage_edges(shelf)
        # by the day, so that what was needed later never moves the draws of an earlier quarter
        rng = draws.generator("demand", known[quarter].as_of.isoformat())
        drawn = divide_demand(fit.draw(edges, draws=_DRAWS, rng=rng), shares[quarter], rng=rng)[:, :, :-1]
        now = dataclasses.replace(shelf, on_hand=stock)
        rules = size_rules(now, drawn[:, 0], drawn[:, 1])
        return np.asarray(best_quantities(now, drawn[:, 0], drawn[:, 1], rules).make, dtype=float)

    return decide
