"""Tell which undersizes to keep, and how many of each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import FittingPrices
from wearstats.analysis.estimate import assumed
from wearstats.analysis.gaps.posterior import HubSpace, draw_maps
from wearstats.analysis.numerics.even_draws import even_normals
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import Remark, refused, remark
from wearstats.analysis.stock.best_quantities import MakeLimit
from wearstats.analysis.stock.shared_limit import share_limit
from wearstats.analysis.stock.sizes.choice import SizeChoice, choose_sizes
from wearstats.analysis.stock.sizes.pair_costs import PairCosts, price_pairs
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError, InputError, Problem, counted
from wearstats.studies.gaps.filing_hand import filing_hand
from wearstats.studies.inputs.prices import Prices, prices_of
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.inputs.width_fit import SAMPLE_SHAFTS, FittedWidths, width_fit
from wearstats.studies.loosening.fit_from_store import risk_model
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part
from wearstats.studies.stock.answer import PatternStock, StockStudy
from wearstats.studies.stock.backtest import StockBacktest, study_stock_backtest
from wearstats.studies.stock.demand import StockDemand, demand_of
from wearstats.studies.stock.production import MakeNow, study_make_now
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.spread import ladder, made_spread, sort_out

FEWEST_OCCASIONS = 5
_MOST_SHAFTS = 1000
"""Of the shafts of a pattern so many show which sizes are needed; may be lowered: `sample_limits`."""

_LOG2_MAPS, _LOG2_LAWS = 6, 6
"""Binary logarithms of the draws of each shaft's map with its hub, and of the law."""
_GRID_UM = 10.0
_BATCH = 10
_REACH_UM = 20.0


@part(*EVERYTHING, kept=True)
def study_stock(
    snapshot: Snapshot,
    *,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    limits: AdviceLimits | None = None,
    past: bool = False,
    sizes: int | None = None,
    hubs: int | None = None,
    budget: float | None = None,
) -> StockStudy:
    """Answer which sizes to keep.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked; prices are those of `Snapshot.models_from`.
    horizon_months : float
        Failures within that time are counted.
    risk_limit : float
        Chance of working loose within it that is accepted.
    limits : AdviceLimits, optional
        The shop's settings.
    past : bool
        Whether past quarters are run through too.
    sizes : int, optional
        How many sizes are asked for, the best of them; as many as pay if not given.
    hubs, budget : int, float, optional
        Most hubs that may be made now, and most money, setups and hubs together; of all patterns together.

    Returns
    -------
    StockStudy

    Raises
    ------
    AnalysisError
        When no pattern can be answered: no readings, prices that are missing or of several currencies, or more sizes
        asked for than can be told apart.
    InputError
        When a number asked for is none, or patterns with prices in several currencies share a budget.
    """
    names = [snapshot.pattern] if snapshot.pattern else sorted(width_fit(snapshot).readings.patterns)
    limit = _limit_of(sizes, hubs, budget)
    shared = limit is not None and len(names) > 1
    answered: dict[str, PatternStock] = {}
    unanswered: dict[str, Remark] = {}
    last: AnalysisError | None = None
    asked = (horizon_months, risk_limit, limits or AdviceLimits(), sizes, limit, shared)
    for name in names[1:]:
        _of_pattern.begin(snapshot, name, *asked)
    for name in names:
        try:
            of_pattern = _of_pattern(snapshot, name, *asked)
        except AnalysisError as error:
            last = error
            unanswered[name] = refused(error)
        else:
            answered[name] = replace(of_pattern, backtest=_run_through(snapshot, name)) if past else of_pattern
    if limit is not None and shared:
        answered = _share(snapshot, answered, limit)
    if not answered:
        raise last or AnalysisError("no shaft has been measured", needed="add inspections and readings")
    return StockStudy(
        as_of=snapshot.known_on, horizon_months=horizon_months, by_pattern=answered, unanswered=unanswered
    )


def _limit_of(sizes: int | None, hubs: int | None, budget: float | None) -> MakeLimit | None:
    """Check what is asked for, and take the limit on what is made now from it."""
    asked = (("sizes", sizes, 1), ("hubs", hubs, 0), ("budget", budget, 0))
    problems = [
        Problem(place=place, found=f"{value:g}", allowed=f"{least} or more")
        for place, value, least in asked
        if value is not None and not least <= value < np.inf
    ]
    if problems:
        raise InputError(problems)
    return None if hubs is None and budget is None else MakeLimit(hubs=hubs, money=budget)


def _share(snapshot: Snapshot, answered: dict[str, PatternStock], limit: MakeLimit) -> dict[str, PatternStock]:
    """Share a limit among patterns, and tell again what to make of each."""
    makes = [each.make for each in answered.values() if each.make]
    if limit.allows(np.array(sum(make.hubs for make in makes)), np.array(sum(make.money for make in makes))):
        return answered
    frontiers = {name: each.make.frontier for name, each in answered.items() if each.make and each.make.frontier}
    currencies = {name: str(answered[name].prices.currency) for name in frontiers}
    if limit.money is not None and len(set(currencies.values())) > 1:
        found = ", ".join(f"{name} in {currency}" for name, currency in currencies.items())
        raise InputError(Problem(place="budget", found=f"prices of {found}", allowed="one currency: give --pattern"))
    own = dict(zip(frontiers, share_limit(list(frontiers.values()), limit), strict=True))
    again = dict(answered)
    for name, share in own.items():
        stock = answered[name]
        make, why_not = _make_now(snapshot, name, stock.choice, stock.prices, _demand(snapshot, name), share)
        again[name] = replace(stock, make=make, why_no_make=why_not)
    return again


@part("known_on", "models_from", "seed", kept=True)
def _of_pattern(
    snapshot: Snapshot,
    name: str,
    months: float,
    risk_limit: float,
    limits: AdviceLimits,
    sizes: int | None,
    limit: MakeLimit | None,
    shared: bool,
) -> PatternStock:
    fitted, model, draws = width_fit(snapshot), risk_model(snapshot), snapshot.draws.within("stock", name)
    prices = prices_of(snapshot, name)
    maps, hub_normal, shaft, duties = _occasions(
        fitted, name, overtaken=snapshot.query("stock/overtaken")["inspection"], draws=draws
    )
    pattern = fitted.readings.patterns[name]
    limits = limits.with_deepest(pattern.deepest_um)
    keeping = keeping_a_year(prices, pattern)
    offered, lying = _offered(snapshot, name), _on_shelf(snapshot, name)
    need = pattern.undersize_um(maps.mean(axis=(1, 2, 3)))
    hand, spread = filing_hand(snapshot), made_spread(snapshot, pattern)
    beside = _beside(model, duties)
    law_size = 1 if model.law is None else model.law.parameters.size
    law_normal = even_normals(draws, "laws", [name], log2_count=_LOG2_LAWS, size=law_size)[0]

    def price(spaces: dict[float, HubSpace]) -> PairCosts:
        return price_pairs(
            maps,
            spaces,
            prices=_fitting_prices(prices),
            unserved=_unserved(prices),
            hand=hand,
            limits=limits,
            risk_limit=risk_limit,
            law=model.law,
            beside=beside,
            months=months,
            # the same for all, so that hubs made and hubs gauged differ by nothing else
            hub_normal=hub_normal,
            law_normal=law_normal,
        )

    made = _can_be_made(pattern, maps, (*offered, *lying))
    demand = _demand(snapshot, name)
    shafts = int(np.unique(shaft).size)
    year = demand.next_year if demand else assumed(float(shafts), why=remark(StockStudyRemark.AS_MANY_AS_SHAFTS))
    costs = price({um: spread.space(pattern.space_um(um)) for um in made})
    choice = choose_sizes(
        costs,
        shaft,
        shafts_a_year=year.value or 0.0,
        size_kept=keeping,
        offered_um=offered,
        need_um=need,
        apart_um=spread.width_um,
        on_shelf=lying,
        made=prices.hub_made or 0.0,
        held=prices.hub_held or 0.0,
        sizes=sizes,
        rng=draws.generator("shafts anew"),
    )
    sorting = sort_out(
        choice,
        costs,
        price({um: spread.gauged(pattern.space_um(um)) for um in ladder(made, spread)}),
        spread,
        shaft,
        year=year.value or 0.0,
        keeping=keeping,
        hubs=int(_mean_stock(pattern)),
        draws=draws,
    )
    make, why_no_make = _make_now(snapshot, name, choice, prices, demand, limit, shared=shared)
    return PatternStock(
        pattern=name,
        choice=choice,
        occasions=len(maps),
        shafts=shafts,
        year=year,
        year_from=demand.rests_on() if demand else None,
        year_nearly_unknown=demand is not None and demand.nearly_unknown,
        prices=prices,
        keeping=keeping,
        pace=hand.pace,
        why_no_risk=None if model.law else model.why_not,
        spread=spread,
        sorting=sorting,
        make=make,
        why_no_make=why_no_make,
        need=pd.DataFrame({"need_um": need, "undersize_um": choice.served["undersize_um"]}),
    )


def _make_now(
    snapshot: Snapshot,
    name: str,
    choice: SizeChoice,
    prices: Prices,
    demand: StockDemand | None,
    limit: MakeLimit | None,
    *,
    shared: bool = False,
) -> tuple[MakeNow | None, Remark | None]:
    """Tell how many of the chosen sizes to make; None with the reason where that cannot be told."""
    try:
        if demand is not None and demand.nearly_unknown:
            raise AnalysisError(
                f"only {12 * demand.needs.recorded_years():.1f} months of what was needed are on record",
                needed="add at least half a year of it (orders.csv, dispatches.csv); until then make hubs one by one",
            )
        made = study_make_now(
            snapshot,
            name,
            sizes=choice.now.undersizes_um.tolist(),
            shares=choice.now.shares,
            kept=choice.chosen.undersizes_um,
            filing_cost=choice.now.filing_cost,
            prices=prices,
            demand=demand,
            limit=limit,
            shared=shared,
        )
    except AnalysisError as error:
        return None, refused(error)
    return made, None


def _run_through(snapshot: Snapshot, name: str) -> StockBacktest | None:
    try:
        return study_stock_backtest(snapshot, name)
    except AnalysisError:
        return None


def keeping_a_year(prices: Prices, pattern: Pattern) -> float:
    """Price keeping a size for a year: what it costs by itself, and half a batch and one more hub on the shelf."""
    kept, held = prices.need("size_kept", "hub_held")
    return kept + held * _mean_stock(pattern)


def _mean_stock(pattern: Pattern) -> float:
    """Hubs of a size on the shelf: half a batch and one more."""
    return (pattern.batch_size or _BATCH) / 2 + 1


def _on_shelf(snapshot: Snapshot, pattern: str) -> dict[float, float]:
    """Count what lies on the shelf, by undersize."""
    lying = snapshot.query("stock/on_hand", pattern=pattern)
    lying = lying[lying["on_hand"] > 0]
    return {float(um): float(hubs) for um, hubs in zip(lying["undersize_um"], lying["on_hand"], strict=True)}


def _fitting_prices(prices: Prices) -> FittingPrices:
    minute, fit, back, post, failure = prices.need("filing_minute", "workshop_fit", "return", "postage", "failure")
    return FittingPrices(filing_minute=minute, workshop_fit=fit, return_=back, postage=post, failure=failure)


def _unserved(prices: Prices) -> float:
    """Price a shaft that no size kept serves: the lesser of what a special costs more and of a lost sale."""
    # a special takes the place of a hub from the shelf, which then need not be made
    special = None if prices.special is None else max(prices.special - (prices.hub_made or 0.0), 0.0)
    told = [price for price in (special, prices.lost_sale) if price is not None]
    if not told:
        prices.need("special", "lost_sale")
    return min(told)


def _beside(model: RiskModel, duties: list[str | None]) -> dict[str, FloatArray]:
    """Give what is held beside the gap for each occasion, by method, as the advice for the shaft has it."""
    if model.law is None:
        return {method: np.zeros((len(duties), 0)) for method in METHODS}
    means = model.law.covariate_means
    return {
        method: np.stack([model.covariates(method=method, duty=duty) for duty in duties]) - means for method in METHODS
    }


def _occasions(
    fitted: FittedWidths, pattern: str, *, overtaken: pd.Series[str], draws: NamedDraws
) -> tuple[FloatArray, FloatArray, IntArray, list[str | None]]:
    """Draw the maps of every shaft between two hubs, as its readings have them: each was an occasion to choose.

    None was where the shaft was scrapped or made another width before any hub went to it (``overtaken``, inspections).
    With each draw of a map goes one of a hub, shape (occasions, draws), standard normal.
    """
    inspections = fitted.readings.inspections
    inspections = inspections[inspections["pattern"] == pattern]
    shafts = np.sort(inspections["shaft"].unique().astype(str))
    if shafts.size > (most := lowered(_MOST_SHAFTS, part_of=SAMPLE_SHAFTS)):
        shafts = shafts[draws.some("shafts", shafts, most)]
        inspections = inspections[inspections["shaft"].isin(shafts)]
    read = inspections[inspections["inspection"].isin(fitted.readings.moments["inspection"].unique())]
    read = read[~read["inspection"].isin(overtaken)]
    if (number := int(read["shaft"].nunique())) < FEWEST_OCCASIONS:
        raise AnalysisError(
            f"of pattern {pattern} only {counted(number, 'shaft was', 'shafts were')} measured",
            needed=f"readings of at least {FEWEST_OCCASIONS} shafts, to know which sizes are needed",
        )
    data = fitted.readings.reduce(read)
    maps, hubs, rows = [], [], []
    for prediction in predict_maps(fitted.fit, data):
        names = data.units["unit"].iloc[prediction.unit]
        size = prediction.shape.places + 1
        normal = even_normals(draws, "maps and hubs", names, log2_count=_LOG2_MAPS, size=size)
        maps.append(draw_maps(prediction, np.delete(normal, 1, axis=-1)))
        hubs.append(normal[..., 1])
        rows.append(prediction.unit)
    of_unit = np.unique(data.units["shaft"].to_numpy(dtype=str), return_inverse=True)[1]
    unit = np.concatenate(rows)
    duty = read.drop_duplicates("shaft").set_index("shaft")["duty"].reindex(data.units["shaft"].iloc[unit])
    duties = [None if pd.isna(word) else str(word) for word in duty]
    return np.concatenate(maps), np.concatenate(hubs), np.asarray(of_unit[unit], dtype=np.int64), duties


def _can_be_made(pattern: Pattern, maps: FloatArray, others_um: tuple[float, ...]) -> list[float]:
    """List every undersize on the grid that some shaft might need, and those on offer or on the shelf."""
    grid = pattern.grid_um or _GRID_UM
    widest = pattern.undersize_um(maps.max(axis=3).mean(axis=2).mean(axis=1))
    most = float(np.quantile(widest, 0.995)) + _REACH_UM + pattern.undersize_um(0.0)
    steps = np.arange(0.0, max(most, grid) + grid, grid)
    return sorted({*np.round(steps, 6).tolist(), *others_um})


def _offered(snapshot: Snapshot, pattern: str) -> tuple[float, ...]:
    sizes = snapshot.query("stock/sizes_known")
    sizes = sizes[(sizes["pattern"] == pattern) & sizes["offered"].astype(bool)]
    return tuple(float(um) for um in sizes["undersize_um"])


def _demand(snapshot: Snapshot, pattern: str) -> StockDemand | None:
    """Learn the demand; None where nothing needed is on record."""
    try:
        return demand_of(snapshot, pattern)
    except AnalysisError:
        return None
