"""The shop's own tables: patterns, batches, hubs, dispatches, orders, sizes on offer, counts and costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.domain.arrays import IntArray
from wearstats.domain.tables import METHODS, STATIONS
from wearstats.simulate.events.choice import HALF_YEAR_DAYS, Shelf, day_number
from wearstats.simulate.events.progress import Progress
from wearstats.simulate.scenario.scenario import Scenario
from wearstats.simulate.tables import MISSING, Names, date_text, finish, mm_text, numbered, text_of, yes

PRICES: tuple[tuple[str, float, float], ...] = (
    ("failure", 900.0, 950.0), ("return", 28.0, 30.0), ("filing_minute", 0.8, 0.9), ("size_kept", 60.0, 60.0),
    ("hub_made", 46.0, 52.0), ("hub_held", 7.0, 7.0), ("batch_setup", 85.0, 90.0), ("lost_sale", 70.0, 75.0),
    ("special", 140.0, 150.0), ("workshop_fit", 120.0, 130.0), ("postage", 24.0, 26.0),
)  # fmt: skip
"""Invented prices: item, at first, and from the middle of the study on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batches:
    """The batches that hubs came from.

    Parameters
    ----------
    table : DataFrame
        One row a batch: ``pattern`` (index), ``size``, ``undersize_um``, ``made_day``, ``quantity``, ``name``.
    of_hub : ndarray of int
        Row of each hub's batch; -1 for specials.
    """

    table: pd.DataFrame
    of_hub: IntArray


def patterns_table(scenario: Scenario) -> pd.DataFrame:
    """Make the patterns table."""
    fields = ["pattern", "splines", "width_mm", "space_width_mm", "minor_mm", "major_mm", "engaged_mm", "register_mm"]
    fields += ["pull_on_mm", "grid_um", "lead_days", "batch_size"]
    frame = pd.DataFrame({name: [getattr(spec, name) for spec in scenario.patterns] for name in fields})
    return finish("patterns", frame.assign(stations=";".join(STATIONS)))


def engine_types_table(scenario: Scenario) -> pd.DataFrame:
    """Give one engine type a pattern; the names are invented."""
    names = [spec.pattern for spec in scenario.patterns]
    return finish(
        "engine_types", pd.DataFrame({"engine_type": [f"pump engine {name}" for name in names], "pattern": names})
    )


def gather_batches(progress: Progress, hubs: pd.DataFrame, *, rng: np.random.Generator) -> Batches:
    """Group hubs into batches; each was made some weeks before its half-year began, a few more than were sent."""
    stocked = hubs[hubs["size"] >= 0]
    keys = ["pattern", "size", "half", "lane"]
    grouped = stocked.groupby(keys, sort=True)
    table = grouped.agg(
        undersize_um=("undersize_um", "first"),
        used=("shaft", "size"),
        low=("space_um", "min"),
        high=("space_um", "max"),
    ).reset_index()
    start = day_number(progress.scenario.start)
    table["made_day"] = start + table["half"] * HALF_YEAR_DAYS - rng.integers(5, 40, size=len(table))
    table["quantity"] = table["used"] + rng.integers(0, 5, size=len(table))
    table = table.sort_values(["made_day", *keys], kind="stable").reset_index(drop=True)
    table["name"] = numbered("B", len(table), 4)
    of_hub = np.full(len(hubs), -1, dtype=np.int64)
    match = stocked[keys].merge(table[keys].assign(row=table.index), on=keys, how="left")
    of_hub[stocked.index] = match["row"].to_numpy(dtype=np.int64)
    return Batches(table=table, of_hub=of_hub)


def batches_table(progress: Progress, batches: Batches) -> pd.DataFrame:
    """Make the batches table; the plug gauges enclose every hub of the batch, on a grid of 5 um."""
    table = batches.table
    pattern = table["pattern"].to_numpy(dtype=np.int64)
    nominal = np.array([spec.width_mm * 1000.0 for spec in progress.scenario.patterns])[pattern]
    go = np.floor((nominal + table["low"].to_numpy(dtype=float)) / 5.0) * 5.0
    no_go = np.maximum(np.ceil((nominal + table["high"].to_numpy(dtype=float)) / 5.0) * 5.0, go + 10.0)
    frame = pd.DataFrame(
        {
            "batch": table["name"],
            "pattern": _pattern_names(progress.scenario)[pattern],
            "undersize_um": table["undersize_um"].astype("Int64"),
            "made_on": date_text(table["made_day"].to_numpy(dtype=float)),
            "quantity": table["quantity"],
            "go_mm": mm_text(go),
            "no_go_mm": mm_text(no_go),
            "material": "steel",
            "hardened": "no",
        }
    )
    return finish("batches", frame)


def hubs_table(
    progress: Progress, hubs: pd.DataFrame, batches: Batches, names: Names, *, rng: np.random.Generator
) -> pd.DataFrame:
    """Make the hubs table of those on record; the register bore is gauged on some."""
    scenario = progress.scenario
    pattern = hubs["pattern"].to_numpy(dtype=np.int64)
    nominal = np.array([spec.width_mm * 1000.0 for spec in scenario.patterns])[pattern]
    gauged = hubs["gauged_um"].to_numpy(dtype=float)
    bore = np.array([spec.register_mm * 1000.0 for spec in scenario.patterns])[pattern]
    bore = bore + np.rint(12.0 + 4.0 * rng.standard_normal(len(hubs)))
    frame = pd.DataFrame(
        {
            "hub": names.hubs,
            "pattern": _pattern_names(scenario)[pattern],
            "undersize_um": hubs["undersize_um"].astype("Int64"),
            "batch": text_of(batches.table["name"].to_numpy(dtype=object), batches.of_hub),
            "space_width_mm": mm_text(nominal + gauged),
            "space_u_um": np.where(np.isfinite(gauged), scenario.gauging_sd_um, np.nan),
            "register_mm": mm_text(np.where(rng.random(len(hubs)) < 0.4, bore, np.nan)),
        }
    )
    return finish("hubs", frame[names.hubs != ""])


def dispatches_table(hubs: pd.DataFrame, names: Names) -> pd.DataFrame:
    """Make the dispatches table; hubs sold through a dealer were not dispatched by the shop."""
    frame = pd.DataFrame(
        {
            "hub": names.hubs,
            "sent_on": date_text(hubs["sent_day"].to_numpy(dtype=float)),
            "shaft": names.shafts[hubs["shaft"].to_numpy(dtype=np.int64)],
            "order": text_of(names.orders, hubs["order"].to_numpy(dtype=np.int64)),
            "sent_as": np.array(METHODS, dtype=object)[hubs["sent_as"].to_numpy(dtype=np.int64)],
            "inspection": text_of(names.inspections, hubs["inspection"].to_numpy(dtype=np.int64)),
            "told": yes(hubs["told"].to_numpy(dtype=bool), no=MISSING),
        }
    )
    return finish("dispatches", frame[hubs["dispatched"].to_numpy(dtype=bool)])


def orders_table(progress: Progress, orders: pd.DataFrame, names: Names, *, rng: np.random.Generator) -> pd.DataFrame:
    """Make the orders table; rows without a shaft are people who never sent readings."""
    scenario = progress.scenario
    shaft = orders["shaft"].to_numpy(dtype=np.int64)
    mine = shaft >= 0
    known = np.where(mine, shaft, 0)
    pattern = np.where(mine, progress.shafts.pattern[known], orders["pattern"].to_numpy(dtype=np.int64))
    region = np.where(
        mine, progress.owners.region[progress.shafts.owner[known]], orders["region"].to_numpy(dtype=np.int64)
    )
    guess = progress.scenario.wear_mean_um * rng.standard_gamma(2.0, size=len(orders)) / 2.0
    asked = np.where(rng.random(len(orders)) < np.where(mine, 0.12, 0.5), np.rint(guess / 10.0) * 10.0, np.nan)
    frame = pd.DataFrame(
        {
            "order": names.orders,
            "ordered_on": date_text(orders["day"].to_numpy(dtype=float)),
            "pattern": _pattern_names(scenario)[pattern],
            "region": np.array(scenario.regions, dtype=object)[region],
            "shaft": text_of(names.shafts, np.where(mine, shaft, -1)),
            "asked_undersize_um": pd.Series(asked).astype("Int64"),
            "outcome": orders["outcome"].where(orders["outcome"] != "", MISSING).to_numpy(dtype=object),
        }
    )
    return finish("orders", frame[names.orders != ""])


def lost_orders(scenario: Scenario, *, rng: np.random.Generator) -> pd.DataFrame:
    """Draw orders that never led to a measured shaft."""
    n = round(scenario.shafts * scenario.lost_order_share)
    start, end = day_number(scenario.start), day_number(scenario.end)
    share = np.array([spec.share for spec in scenario.patterns])
    return pd.DataFrame(
        {
            "shaft": -1,
            "day": rng.integers(start, end + 1, size=n).astype(float),
            "outcome": rng.choice(
                ["no-size", "went-silent", "declined", "cancelled"], size=n, p=[0.35, 0.4, 0.1, 0.15]
            ),
            "pattern": rng.choice(share.size, size=n, p=share / share.sum()),
            "region": rng.integers(len(scenario.regions), size=n),
        }
    )


def offers_table(scenario: Scenario, shelf: Shelf) -> pd.DataFrame:
    """Make the table of undersizes on offer; a size's last day is the one before it is no longer chosen."""
    pattern, size = np.nonzero(np.isfinite(shelf.undersize_um))
    ends = shelf.ends[pattern, size]
    frame = pd.DataFrame(
        {
            "pattern": _pattern_names(scenario)[pattern],
            "undersize_um": shelf.undersize_um[pattern, size].astype(np.int64),
            "from_on": date_text(shelf.begins[pattern, size]),
            "to_on": date_text(np.where(ends <= day_number(scenario.end), ends - 1, np.inf)),
        }
    )
    return finish("undersizes_offered", frame)


def counts_table(progress: Progress, hubs: pd.DataFrame, batches: Batches, returns: pd.DataFrame) -> pd.DataFrame:
    """Make the stock counts, one at each quarter's end: made, less sent, plus what came back to the shelf."""
    scenario = progress.scenario
    quarters = pd.period_range(scenario.start, scenario.end, freq="Q")
    days = np.array([day_number(quarter.end_time.date()) for quarter in quarters], dtype=float)
    days = days[days <= day_number(scenario.end)]
    stocked = hubs[hubs["size"] >= 0]
    shelved = returns[returns["shelf"].to_numpy(dtype=bool)]
    back = hubs.loc[shelved["hub"], ["pattern", "size"]].assign(day=shelved["day"].to_numpy())
    back = back[back["size"] >= 0]
    moves = pd.concat(
        [
            pd.DataFrame({"pattern": made["pattern"], "size": made["size"], "day": made[day], "pieces": pieces})
            for made, day, pieces in (
                (batches.table, "made_day", batches.table["quantity"]),
                (stocked, "sent_day", -1),
                (back, "day", 1),
            )
        ],
        ignore_index=True,
    )
    pattern, size = np.nonzero(np.isfinite(progress.shelf.undersize_um))
    rows = []
    for p, k in zip(pattern.tolist(), size.tolist(), strict=True):
        mine = moves[(moves["pattern"] == p) & (moves["size"] == k)]
        on_hand = [int(mine.loc[mine["day"] <= day, "pieces"].sum()) for day in days]
        rows.append(
            pd.DataFrame(
                {
                    "pattern": scenario.patterns[p].pattern,
                    "undersize_um": int(progress.shelf.undersize_um[p, k]),
                    "counted_on": date_text(days),
                    "on_hand": on_hand,
                }
            )[progress.shelf.begins[p, k] <= days]
        )
    return finish("stock_counts", pd.concat(rows, ignore_index=True))


def costs_table(scenario: Scenario, change: str) -> pd.DataFrame:
    """Make the costs table: prices from the start, and from `change` (a day, ISO) on where they differ."""
    rows = [
        (spec.pattern, item, day, amount, scenario.currency)
        for spec in scenario.patterns
        for item, first, later in PRICES
        for day, amount in ((scenario.start.isoformat(), first), (change, later))
        if day == scenario.start.isoformat() or later != first
    ]
    return finish("costs", pd.DataFrame(rows, columns=["pattern", "item", "from_on", "amount", "currency"]))


def _pattern_names(scenario: Scenario) -> np.ndarray:
    return np.array([spec.pattern for spec in scenario.patterns], dtype=object)
