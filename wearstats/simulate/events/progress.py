"""What is carried along for every shaft while its history is simulated, and the ledgers that fill up."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.simulate.events.choice import Shelf, day_number
from wearstats.simulate.events.readings import InspectionLedger
from wearstats.simulate.events.shafts import Owners, Shafts
from wearstats.simulate.scenario.scenario import Scenario

NO_ROW = -1
"""Stands where a row number has nothing to point at."""


@dataclass(slots=True, kw_only=True, eq=False)
class Ledger:
    """Rows of one kind, added block by block and numbered from 0."""

    blocks: list[pd.DataFrame] = field(default_factory=list)
    count: int = 0

    def add(self, block: pd.DataFrame) -> IntArray:
        """Add rows; give their numbers."""
        rows = np.arange(self.count, self.count + len(block))
        if len(block) or not self.blocks:
            self.blocks.append(block.reset_index(drop=True))
        self.count += len(block)
        return rows

    def frame(self) -> pd.DataFrame:
        """Give all rows in the order of their numbers."""
        return pd.concat(self.blocks, ignore_index=True)


@dataclass(slots=True, kw_only=True, eq=False)
class Progress:
    """State of the simulation, one element a shaft unless said.

    Parameters
    ----------
    scenario, owners, shafts, shelf
        What was drawn at the start.
    end : int
        Last day of the study.
    width_um : ndarray, shape (shafts, most splines, stations)
        True widths now; the same array as in `shafts`, which thus changes.
    nominal_um, hours : ndarray, shape (shafts,)
        Nominal new width; running hours now.
    active, fresh : ndarray of bool, shape (shafts,)
        Wants a hub; and has to be measured for it first.
    day : ndarray, shape (shafts,)
        Day on which the order came in or the last hub came back.
    order, period, refit_of, forced : ndarray of int, shape (shafts,)
        Row of the order, number of the period between hubs, fitting before this one, method already settled (-1: none).
    read_um, hollow_um, ready_day : ndarray, shape (shafts,)
        Mean and hollow read, and when everything was measured.
    in_hand : ndarray of int, shape (shafts, 3)
        Rows of the inspections in hand at the choice, the one relied on first; -1 for none.
    in_workshop, workshop_later : ndarray of bool, shape (shafts,)
        Measured by the workshop before the choice; to be measured by it between dispatch and fitting.
    frailty : ndarray, shape (shafts,)
        Unseen log frailty.
    inspections, periods, orders, hubs, fittings, follow_ups, returns, events
        The ledgers.
    widths : list of ndarray
        True widths of each period, as in the ledger of periods.
    """

    scenario: Scenario
    owners: Owners
    shafts: Shafts
    shelf: Shelf
    end: int
    width_um: FloatArray
    nominal_um: FloatArray
    hours: FloatArray
    active: BoolArray
    fresh: BoolArray
    day: FloatArray
    order: IntArray
    period: IntArray
    refit_of: IntArray
    forced: IntArray
    read_um: FloatArray
    hollow_um: FloatArray
    ready_day: FloatArray
    in_hand: IntArray
    in_workshop: BoolArray
    workshop_later: BoolArray
    frailty: FloatArray
    inspections: InspectionLedger = field(default_factory=InspectionLedger)
    periods: Ledger = field(default_factory=Ledger)
    orders: Ledger = field(default_factory=Ledger)
    hubs: Ledger = field(default_factory=Ledger)
    fittings: Ledger = field(default_factory=Ledger)
    follow_ups: Ledger = field(default_factory=Ledger)
    returns: Ledger = field(default_factory=Ledger)
    events: Ledger = field(default_factory=Ledger)
    widths: list[FloatArray] = field(default_factory=list)


def begin(scenario: Scenario, owners: Owners, shafts: Shafts, shelf: Shelf, *, rng: np.random.Generator) -> Progress:
    """Start the clock: every shaft sends one order on some day of the study, the last weeks left out."""
    n = scenario.shafts
    start, end = day_number(scenario.start), day_number(scenario.end)
    nominal = np.array([spec.width_mm * 1000.0 for spec in scenario.patterns])
    none = np.full(n, NO_ROW, dtype=np.int64)
    return Progress(
        scenario=scenario,
        owners=owners,
        shafts=shafts,
        shelf=shelf,
        end=end,
        width_um=shafts.width_um,
        nominal_um=nominal[shafts.pattern],
        hours=shafts.hours.copy(),
        active=np.ones(n, dtype=bool),
        fresh=np.ones(n, dtype=bool),
        day=start + np.floor(rng.random(n) ** 1.6 * max(end - start - 30, 1)),
        order=none.copy(),
        period=none.copy(),
        refit_of=none.copy(),
        forced=none.copy(),
        read_um=np.zeros(n),
        hollow_um=np.zeros(n),
        ready_day=np.zeros(n),
        in_hand=np.full((n, 3), NO_ROW, dtype=np.int64),
        in_workshop=np.zeros(n, dtype=bool),
        workshop_later=np.zeros(n, dtype=bool),
        frailty=scenario.frailty_sd * rng.standard_normal(n),
    )
