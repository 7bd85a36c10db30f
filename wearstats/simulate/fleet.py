"""The invented fleet: from a scenario and a source of randomness to tables and the truth behind them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.domain.tables import TABLES
from wearstats.simulate.check_pieces import with_check_pieces
from wearstats.simulate.events.choice import stock_shelf
from wearstats.simulate.events.progress import Progress, begin
from wearstats.simulate.events.rounds import measure, send
from wearstats.simulate.events.shafts import draw_owners, draw_shafts, share_out_owners
from wearstats.simulate.events.trial import try_on
from wearstats.simulate.scenario.scenario import Scenario
from wearstats.simulate.shop import (
    batches_table,
    costs_table,
    counts_table,
    dispatches_table,
    engine_types_table,
    gather_batches,
    hubs_table,
    lost_orders,
    offers_table,
    orders_table,
    patterns_table,
)
from wearstats.simulate.tables import (
    MISSING,
    Names,
    by_day,
    date_text,
    finish,
    fittings_table,
    gauges_table,
    inspections_table,
    numbered,
    policy_change_text,
    readings_table,
    text_of,
    whole,
    yes,
)
from wearstats.simulate.truth import Truth, tell_truth


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fleet:
    """An invented fleet.

    Parameters
    ----------
    frames : dict of str to DataFrame
        By table, with exactly the contract's columns; dates and typed widths as text, empty cells missing.
    truth : Truth
        What is behind them.
    """

    frames: dict[str, pd.DataFrame]
    truth: Truth


def simulate(scenario: Scenario, *, rng: np.random.Generator) -> Fleet:
    """Invent a fleet and its history.

    Parameters
    ----------
    scenario : Scenario
        All switches.
    rng : numpy.random.Generator
        Source of randomness; the same state gives the same fleet.

    Returns
    -------
    Fleet
        Tables and truth.
    """
    owner = share_out_owners(scenario, rng=rng)
    owners = draw_owners(scenario, int(owner.max()) + 1, rng=rng)
    shafts = draw_shafts(scenario, owner, rng=rng)
    progress = begin(scenario, owners, shafts, stock_shelf(scenario, rng=rng), rng=rng)
    for _ in range(scenario.most_attempts):
        measure(progress, rng=rng)
        try_on(progress, send(progress, rng=rng), rng=rng)
        if not progress.active.any():
            break
    return _write(progress, rng=rng)


def _write(progress: Progress, *, rng: np.random.Generator) -> Fleet:
    """Name everything and fill the tables."""
    scenario = progress.scenario
    seen = pd.concat(progress.inspections.blocks, ignore_index=True)
    fittings, hubs = progress.fittings.frame(), progress.hubs.frame()
    returns = progress.returns.frame()
    orders = pd.concat([progress.orders.frame(), lost_orders(scenario, rng=rng)], ignore_index=True)
    orders = orders.assign(pattern=orders["pattern"].fillna(0), region=orders["region"].fillna(0))
    names = _name(progress, seen, fittings, hubs, orders)
    batches = gather_batches(progress, hubs, rng=rng)
    change = policy_change_text(progress)
    frames = {
        "patterns": patterns_table(scenario),
        "engine_types": engine_types_table(scenario),
        "gauges": gauges_table(progress, names),
        "shafts": _shafts_table(progress, names, rng=rng),
        "shaft_events": _events_table(progress, names),
        "inspections": inspections_table(progress, seen, names, rng=rng),
        "readings": readings_table(progress, seen, names),
        "batches": batches_table(progress, batches),
        "hubs": hubs_table(progress, hubs, batches, names, rng=rng),
        "hub_spaces": finish("hub_spaces", pd.DataFrame(index=[])),
        "dispatches": dispatches_table(hubs, names),
        "fittings": fittings_table(fittings, names),
        "follow_ups": _follow_ups_table(progress, names),
        "returns": _returns_table(returns, names),
        "orders": orders_table(progress, orders, names, rng=rng),
        "undersizes_offered": offers_table(scenario, progress.shelf),
        "stock_counts": counts_table(progress, hubs, batches, returns),
        "costs": costs_table(scenario, change),
    }
    frames |= with_check_pieces(scenario, frames["inspections"])
    truth = tell_truth(progress, seen, fittings, hubs, names)
    # no picture is invented
    return Fleet(frames={table.name: frames[table.name] for table in TABLES if table.name in frames}, truth=truth)


def _name(
    progress: Progress, seen: pd.DataFrame, fittings: pd.DataFrame, hubs: pd.DataFrame, orders: pd.DataFrame
) -> Names:
    """Name all rows that are on record: shafts by first order, the rest by day."""
    recorded = fittings["recorded"].to_numpy(dtype=bool)
    dispatched = hubs["dispatched"].to_numpy(dtype=bool)
    on_record = dispatched.copy()
    on_record[fittings.loc[recorded, "hub"].to_numpy(dtype=np.int64)] = True
    # who bought from a dealer sent the shop no order
    ordered = np.ones(len(orders), dtype=bool)
    ordered[hubs.loc[~dispatched, "order"].to_numpy(dtype=np.int64)] = False
    first = np.full(progress.scenario.shafts, np.inf)
    np.minimum.at(first, seen["shaft"].to_numpy(dtype=np.int64), seen["day"].to_numpy(dtype=float))
    return Names(
        shafts=by_day("S", first, np.isfinite(first), 4),
        owners=numbered("owner-", progress.owners.gauge.size, 3),
        hands=numbered("hand-", progress.scenario.workshop_hands, 1),
        inspections=by_day("I", seen["day"].to_numpy(dtype=float), np.ones(len(seen), dtype=bool), 5),
        orders=by_day("R", orders["day"].to_numpy(dtype=float), ordered, 4),
        hubs=by_day("H", hubs["sent_day"].to_numpy(dtype=float), on_record, 4),
        fittings=by_day("F", fittings["fit_day"].to_numpy(dtype=float), recorded, 4),
    )


def _shafts_table(progress: Progress, names: Names, *, rng: np.random.Generator) -> pd.DataFrame:
    """Make the shafts table; engines are pumps numbered within their region."""
    scenario, shafts = progress.scenario, progress.shafts
    region = progress.owners.region[shafts.owner]
    region_names = np.array(scenario.regions, dtype=object)
    number = rng.integers(1, max(scenario.shafts // 2, 2), size=scenario.shafts)
    engine = [f"{region_names[r]} pump {k}" for r, k in zip(region.tolist(), number.tolist(), strict=True)]
    first = np.full(scenario.shafts, np.inf)
    orders = progress.orders.frame()
    np.minimum.at(first, orders["shaft"].to_numpy(dtype=np.int64), orders["day"].to_numpy(dtype=float))
    frame = pd.DataFrame(
        {
            "shaft": names.shafts,
            "pattern": np.array([spec.pattern for spec in scenario.patterns], dtype=object)[shafts.pattern],
            "engine": np.array(engine, dtype=object),
            "region": region_names[region],
            "duty": np.array([kind.duty for kind in scenario.duties], dtype=object)[shafts.duty],
            "first_seen_on": date_text(first),
        }
    )
    return finish("shafts", frame[names.shafts != ""])


def _events_table(progress: Progress, names: Names) -> pd.DataFrame:
    """Make the table of what was done to shafts."""
    events = progress.events.frame()
    frame = pd.DataFrame(
        {
            "shaft": text_of(names.shafts, events["shaft"].to_numpy(dtype=np.int64)),
            "happened_on": date_text(events["day"].to_numpy(dtype=float)),
            "what": events["what"].to_numpy(dtype=object),
        }
    )
    return finish("shaft_events", frame)


def _follow_ups_table(progress: Progress, names: Names) -> pd.DataFrame:
    """Make the follow-ups table."""
    told = progress.follow_ups.frame()
    frame = pd.DataFrame(
        {
            "fitting": text_of(names.fittings, told["fitting"].to_numpy(dtype=np.int64)),
            "seen_on": date_text(told["day"].to_numpy(dtype=float)),
            **{name: _blank(told[name]) for name in ("state", "prompted", "how", "cause")},
            "failed_on": date_text(told["failed_day"].to_numpy(dtype=float)),
            "hours": whole(told["hours"]),
        }
    )
    return finish("follow_ups", frame)


def _returns_table(returns: pd.DataFrame, names: Names) -> pd.DataFrame:
    """Make the returns table."""
    frame = pd.DataFrame(
        {
            "hub": text_of(names.hubs, returns["hub"].to_numpy(dtype=np.int64)),
            "returned_on": date_text(returns["day"].to_numpy(dtype=float)),
            "reason": returns["reason"].to_numpy(dtype=object),
            "fitting": text_of(names.fittings, returns["fitting"].to_numpy(dtype=np.int64)),
            "back_on_shelf": yes(returns["shelf"].to_numpy(dtype=bool)),
        }
    )
    return finish("returns", frame)


def _blank(words: pd.Series) -> np.ndarray:
    """Turn empty text into missing."""
    text = words.to_numpy(dtype=object).copy()
    text[text == ""] = MISSING
    return text
