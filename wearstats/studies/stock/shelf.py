"""The shelf that quantities are chosen for: sizes kept and sizes that still lie there, side by side."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.stock.lot_sizes import StockCosts
from wearstats.analysis.stock.quantities import Shelf
from wearstats.analysis.stock.substitution import one_way
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.errors import InputError, Problem
from wearstats.studies.snapshot import Snapshot

QUARTER_DAYS = 365.25 / 4.0
STAGES_AHEAD = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidOut:
    """A shelf with its sizes.

    Parameters
    ----------
    shelf : Shelf
        What lies there and what may be made.
    undersizes_um : ndarray, shape (sizes,)
        Ascending.
    shares : ndarray, shape (share draws, sizes)
        Share of the need of each.
    counted_on : tuple of datetime.date or None, length sizes
        When each was last counted.
    """

    shelf: Shelf
    undersizes_um: FloatArray
    shares: FloatArray
    counted_on: tuple[datetime.date | None, ...]


def lay_out(
    snapshot: Snapshot,
    pattern: str,
    sizes_um: FloatArray,
    shares: FloatArray,
    filing_cost: FloatArray | None,
    costs: StockCosts,
    *,
    kept_um: FloatArray,
    lead_days: float,
    stage_days: float,
) -> LaidOut:
    """Lay the sizes kept and those that still lie there side by side; arguments as of `study_make_now`."""
    order = np.argsort(sizes_um, kind="stable")
    given_um = sizes_um[order]
    table = _as_table(shares, given_um)[:, order]
    found = snapshot.query("stock/on_hand", pattern=pattern).set_index("undersize_um")
    lying = found.index[(found["on_hand"] > 0)].to_numpy(dtype=float)
    undersizes = np.union1d(given_um, lying)
    place = np.searchsorted(undersizes, given_um)
    may_make: BoolArray = np.isin(undersizes, kept_um)
    filing = np.full((undersizes.size, undersizes.size), np.inf)
    if filing_cost is not None:
        filing[np.ix_(place, place)] = one_way(np.asarray(filing_cost, dtype=float), sizes_um)[np.ix_(order, order)]
    whole = np.zeros((len(table), undersizes.size))
    whole[:, place] = table
    return LaidOut(
        shelf=Shelf(
            on_hand=found["on_hand"].reindex(undersizes).fillna(0).clip(lower=0).to_numpy(dtype=float),
            may_make=may_make,
            filing=one_way(filing, undersizes),
            costs=costs,
            lead_days=lead_days,
            stage_days=max(stage_days, lead_days),
        ),
        undersizes_um=undersizes,
        shares=whole,
        counted_on=tuple(
            None if pd.isna(day) else pd.Timestamp(day).date() for day in found["counted_on"].reindex(undersizes)
        ),
    )


def stage_edges(shelf: Shelf) -> FloatArray:
    """Give the times between which demand is drawn, in quarters from now: when stages begin, and when hubs are there.

    Returns
    -------
    ndarray, shape (2 * STAGES_AHEAD + 1,)
    """
    begins = shelf.stage_days * np.arange(STAGES_AHEAD + 1)
    return np.asarray(np.sort(np.concatenate([begins, begins[:-1] + shelf.lead_days])) / QUARTER_DAYS)


def _as_table(shares: FloatArray, sizes_um: FloatArray) -> FloatArray:
    """Shares as a table, shape (share draws, sizes)."""
    table = np.atleast_2d(np.asarray(shares, dtype=float))
    total = table.sum(axis=1)
    sound = table.shape[1] == sizes_um.size > 0 and bool(np.all(table >= 0)) and bool(np.all(total <= 1 + 1e-6))
    if not sound or np.unique(sizes_um).size < sizes_um.size:
        raise InputError(
            Problem(
                place="shares of the sizes",
                found=f"{table.shape[1]} shares for {sizes_um.size} sizes, together {float(total.max()):g}",
                allowed="one share for each of one or more different sizes, 0 or more, together no more than 1",
            )
        )
    return table
