"""What to put on the machine now: by size, what lies there, what will be needed, how many to make, how far it goes."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.best_quantities import Frontier, MakeLimit, best_quantities, frontier_within
from wearstats.analysis.stock.cover import lasting_quarters
from wearstats.analysis.stock.demand import DemandFit, divide_demand
from wearstats.analysis.stock.lot_sizes import StockCosts, lacking_cost
from wearstats.analysis.stock.quantities import (
    QuantityCheck,
    Shelf,
    check_quantities,
    run_stage,
    size_rules,
)
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns
from wearstats.studies.inputs.prices import Prices, prices_of
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.demand import StockDemand, demand_of
from wearstats.studies.stock.production_rows import (
    COVER_QUARTERS,
    LEVEL,
    RUNS_OUT_CHANCE,
    MakeRow,
    list_rows,
)
from wearstats.studies.stock.records import Making, Needs, read_making
from wearstats.studies.stock.remarks import MakeAssumption
from wearstats.studies.stock.shelf import QUARTER_DAYS, lay_out, stage_edges

_DRAWS = 4000
_FAN_QUARTERS = 4
NEEDED_PRICES = ("hub_made", "hub_held", "batch_setup", "lost_sale", "special")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MakeNow:
    """What to make of one pattern.

    Parameters
    ----------
    as_of, pattern : datetime.date, str
        What was known on that day, of which pattern.
    rows : tuple of MakeRow
        By undersize; sizes on the shelf that are no longer kept among them.
    demand : DemandFit
        Of all sizes together.
    next_year : Estimate
        Hubs needed in the year to come, whatever size; interval at 90 %.
    unserved_share : float
        Share of the need beyond all sizes.
    check : QuantityCheck
        Simulated until the next chance.
    prices : Prices
        What it rests on.
    making : Making
        Lead time and batch size.
    stage_days : float
        Until the next chance to make some.
    needed, lost, open : int
        Hubs needed on record; those that no size on the shelf served; those of orders still open.
    limit : MakeLimit or None
        What was allowed to be made.
    unlimited_hubs : int
        Hubs that would be made without it.
    limit_costs : float
        What it costs, from now on.
    frontier : Frontier or None
        What spending more within the limit brings, where it is shared with other patterns.
    assumptions : tuple of Remark
        To be printed with the answer.
    history : DataFrame
        Quarters on record, as `Needs.by_quarter` gives them.
    fan : DataFrame
        Quarters to come: ``quarters_ahead`` (1 from the day on), ``low95``, ``low50``, …, ``high95``, ``mean``.
    """

    as_of: datetime.date
    pattern: str
    rows: tuple[MakeRow, ...]
    demand: DemandFit
    next_year: Estimate
    unserved_share: float
    check: QuantityCheck
    prices: Prices
    making: Making
    stage_days: float
    needed: int
    lost: int
    open: int
    limit: MakeLimit | None
    unlimited_hubs: int
    limit_costs: float
    frontier: Frontier | None
    assumptions: tuple[Remark, ...]
    history: Annotated[pd.DataFrame, columns(text="quarter", number="exposure of_year", whole="needed lost")]
    fan: Annotated[pd.DataFrame, columns(number="mean", whole="quarters_ahead low95 low50 median high50 high95")]

    @property
    def make(self) -> dict[float, int]:
        """How many to make of each size kept."""
        return {row.undersize_um: row.make for row in self.rows if row.kept}

    @property
    def hubs(self) -> int:
        """All hubs to make now."""
        return sum(row.make for row in self.rows)

    @property
    def money(self) -> float:
        """What making them costs once, setups and hubs."""
        return sum(row.cost for row in self.rows)

    @property
    def use_up(self) -> dict[float, int]:
        """Hubs on the shelf of sizes that are no longer kept, by undersize."""
        return {row.undersize_um: row.on_hand for row in self.rows if not row.kept and row.on_hand > 0}

    @property
    def covers_until(self) -> datetime.date | None:
        """First day by which a need of a size kept goes unserved with a chance of one in ten; None without one."""
        return min((row.covers_until for row in self.rows if row.kept and row.share > 0), default=None)

    @property
    def from_tighter_um(self) -> tuple[float, ...]:
        """Sizes kept of which none lies there or is made now, since tighter hubs filed out serve their needs."""
        return tuple(row.undersize_um for row in self.rows if row.from_tighter)

    @property
    def files(self) -> bool:
        """Whether tighter hubs are filed out for any size."""
        return any(row.own_until != row.covers_until for row in self.rows)

    def make_frame(self) -> pd.DataFrame:
        """One row a size, to be printed or written as CSV or XLSX: days as text, ``why`` a remark."""
        return pd.DataFrame([{"pattern": self.pattern, **_cells(row)} for row in self.rows])

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form; ``make`` and ``covers_until`` as the contract has them in ``chosen``."""
        return {
            "make": {f"{undersize:g}": number for undersize, number in self.make.items()},
            "covers_until": self.covers_until,
            "hubs": self.hubs,
            "money": self.money,
            "use_up": {f"{undersize:g}": number for undersize, number in self.use_up.items()},
            "limit": self.limit,
            "hubs_without_limit": self.unlimited_hubs,
            "limit_costs": self.limit_costs,
            "sizes": self.rows,
            "demand": {
                "per_quarter": self.demand.level,
                "next_year": self.next_year,
                "overdispersed_probability": self.demand.overdispersed,
                "scatter": self.demand.scatter,
                "trend_probability": self.demand.trend,
                "season_probability": self.demand.season,
                "drift_probability": self.demand.drift,
                "trend_borne": self.demand.trend_borne,
                "season_borne": self.demand.season_borne,
                "hubs_needed": self.needed,
                "lost": self.lost,
                "open": self.open,
                "unserved_share": self.unserved_share,
            },
            "until_next_chance": {
                "days": self.stage_days,
                "lead_days": self.making.lead_days,
                "batch_size": self.making.batch_size,
                **{
                    name: getattr(self.check, name)
                    for name in ("fill_rate", "lacking", "filed", "left", "cost", "spared")
                },
            },
            "prices": self.prices,
            "assumptions": self.assumptions,
        }


def study_make_now(
    snapshot: Snapshot,
    pattern: str,
    *,
    sizes: Sequence[float],
    shares: FloatArray,
    kept: Sequence[float] | None = None,
    filing_cost: FloatArray | None = None,
    prices: Prices | None = None,
    demand: StockDemand | None = None,
    limit: MakeLimit | None = None,
    shared: bool = False,
    stage_days: float = QUARTER_DAYS,
) -> MakeNow:
    """Tell how many of each size to make now.

    Parameters
    ----------
    snapshot : Snapshot
    pattern : str
    sizes : sequence of float, length (sizes,)
        Undersizes kept, in um, and those of hubs that lie on the shelf, to be used up.
    shares : ndarray, shape (sizes,) or (share draws, sizes)
        Share of all needs that each of them serves; the rest is beyond them. Rows carry what is not known of them.
    kept : sequence of float, optional
        Those of them that may be made; all if not given.
    filing_cost : ndarray, shape (sizes, sizes), optional
        Extra cost of serving the need of the row's size with the column's hub, infinite where it is not done; entries
        of looser hubs are never used. Without it no hub serves another size's need.
    prices, demand : optional
        Read from the store if not given.
    limit : MakeLimit, optional
        What may be made at most; the best within it.
    shared : bool
        Whether the limit is to be shared with other patterns.
    stage_days : float
        Until the next chance to make some; a quarter. Never less than the lead time.

    Returns
    -------
    MakeNow

    Raises
    ------
    InputError
        When the shares do not fit the sizes or are no shares.
    AnalysisError
        When a price, the lead time, the batch size, or every order is missing.
    """
    making, as_of, draws = read_making(snapshot, pattern), snapshot.known_on, snapshot.draws.within("stock", pattern)
    demand = demand or demand_of(snapshot, pattern)
    needs = demand.needs
    prices = prices_of(snapshot, pattern) if prices is None else prices
    costs = stock_costs(prices, making)
    laid = lay_out(
        snapshot,
        pattern,
        np.asarray(sizes, dtype=float),
        shares,
        filing_cost,
        costs,
        kept_um=np.asarray(sizes if kept is None else kept, dtype=float),
        lead_days=float(making.lead_days),
        stage_days=float(stage_days),
    )
    shelf = laid.shelf
    edges = stage_edges(shelf)

    def draw(name: str, edges: FloatArray) -> IntArray:
        rng = draws.generator(name)
        return divide_demand(demand.draw(edges, count=_DRAWS, rng=rng), laid.shares, rng=rng)[:, :, :-1]

    # chosen by one demand and judged by another, lest the choice flatters itself
    chosen_by, seen = draw("demand chosen by", edges), draw("demand judged by", edges)
    rules = size_rules(shelf, chosen_by[:, 0], chosen_by[:, 1])
    ahead_now = chosen_by[:, 0], chosen_by[:, 1]
    best = best_quantities(shelf, *ahead_now, rules, limit=limit)
    make = best.make
    check = check_quantities(shelf, make, seen[:, 0], seen[:, 1], rules, level=LEVEL)
    ran = run_stage(shelf, make.astype(float), seen[:, 0], seen[:, 1], [rule.value for rule in rules])
    rng = draws.generator("demand ahead")
    ahead = demand.draw(np.arange(COVER_QUARTERS + 1.0), count=_DRAWS, rng=rng)
    by_size = divide_demand(ahead, laid.shares, rng=rng)[:, :, :-1]
    own, filed_out = (
        lasting_quarters(
            shelf.on_hand + make,
            by_size,
            filing=filing,
            worth=costs.lacking - costs.made,
            chance=RUNS_OUT_CHANCE,
            rng=draws.generator("how long it lasts"),
        )
        for filing in (None, shelf.filing)
    )
    year = needs.between(as_of - datetime.timedelta(days=365), as_of).by_size(laid.undersizes_um)
    rows = list_rows(laid, seen, make, ran.lacking_by_size, own, filed_out, year, as_of)
    return MakeNow(
        as_of=as_of,
        pattern=pattern,
        rows=rows,
        demand=demand.fit,
        next_year=demand.next_year,
        unserved_share=float(max(1.0 - laid.shares.mean(axis=0).sum(), 0.0)),
        check=check,
        prices=prices,
        making=making,
        stage_days=shelf.stage_days,
        needed=needs.hubs,
        lost=needs.lost,
        open=needs.open,
        limit=limit,
        unlimited_hubs=best.unlimited_hubs,
        limit_costs=best.limit_costs,
        frontier=frontier_within(shelf, *ahead_now, rules, limit=limit) if shared and limit is not None else None,
        assumptions=_assumptions(shelf, prices, filing_cost is not None, needs, [row for row in rows if row.kept]),
        history=needs.by_quarter(),
        fan=_fan(ahead),
    )


def stock_costs(prices: Prices, making: Making) -> StockCosts:
    """Take what stock costs from the prices; AnalysisError naming those that are missing."""
    made, held, setup, lost_sale, special = prices.need(*NEEDED_PRICES)
    return StockCosts(
        setup=setup,
        made=made,
        held=held,
        lacking=lacking_cost(lost_sale=lost_sale, special=special, made=made),
        batch_size=making.batch_size,
    )


def _assumptions(shelf: Shelf, prices: Prices, files: bool, needs: Needs, rows: list[MakeRow]) -> tuple[Remark, ...]:
    costs, uncounted = shelf.costs, tuple(row.undersize_um for row in rows if row.counted_on is None)
    said = (
        remark(
            MakeAssumption.PRICES,
            day=prices.as_of,
            currency=prices.currency,
            setup=costs.setup,
            batch_size=costs.batch_size,
            made=costs.made,
            held=costs.held,
        ),
        remark(MakeAssumption.UNSERVED, cost=costs.lacking),
        remark(MakeAssumption.LOST_COUNT, lost=needs.lost, needed=needs.hubs),
        remark(MakeAssumption.TIMES, lead_days=shelf.lead_days, stage_days=shelf.stage_days),
        remark(MakeAssumption.SHARES_STAY),
        remark(MakeAssumption.FILED_OUT if files else MakeAssumption.NOT_FILED_OUT),
    )
    return (*said, remark(MakeAssumption.NEVER_COUNTED, undersizes_um=uncounted)) if uncounted else said


def _fan(ahead: IntArray) -> pd.DataFrame:
    levels = {"low95": 0.025, "low50": 0.25, "median": 0.5, "high50": 0.75, "high95": 0.975}
    quarters = ahead[:, :_FAN_QUARTERS]
    found = {name: np.quantile(quarters, q, axis=0, method="inverted_cdf") for name, q in levels.items()}
    return pd.DataFrame({"quarters_ahead": np.arange(1, _FAN_QUARTERS + 1), **found, "mean": quarters.mean(axis=0)})


def _cells(row: MakeRow) -> dict[str, Any]:
    """Spread a size over columns: estimates into value and ends, days into text."""
    cells: dict[str, Any] = {}
    for name in (each.name for each in fields(row)):
        value = getattr(row, name)
        if isinstance(value, Estimate):
            stem = name.removesuffix("_demand")
            cells |= {name: value.value, f"{stem}_low": value.low, f"{stem}_high": value.high}
        elif value is None or isinstance(value, datetime.date):
            cells[name] = "" if value is None else value.isoformat()
        else:
            cells[name] = value
    return cells
