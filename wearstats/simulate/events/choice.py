"""Which hub is sent and how it is to be fitted, and what its spaces truly are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.simulate.scenario.scenario import Scenario

AS_SUPPLIED, OWNER_FITTED, WORKSHOP_FITTED = 0, 1, 2
"""Codes of the methods, in the order of the contract's words."""

HALF_YEAR_DAYS = 183


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shelf:
    """What is kept on the shelf, and how its batches truly are.

    Parameters
    ----------
    undersize_um, begins, ends : ndarray, shape (patterns, most sizes)
        Sizes kept and the first and last day; NaN-padded.
    standard_um : ndarray, shape (patterns,)
        Space of the standard hub above the new width.
    batch_um : ndarray, shape (patterns, most sizes, half-years, lanes)
        How much wider than meant the spaces of a batch are.
    """

    undersize_um: FloatArray
    begins: FloatArray
    ends: FloatArray
    standard_um: FloatArray
    batch_um: FloatArray


def day_number(day: object) -> int:
    """Days since 1970-01-01."""
    return int(np.datetime64(str(day), "D").astype(np.int64))


def stock_shelf(scenario: Scenario, *, rng: np.random.Generator) -> Shelf:
    """Lay out the sizes on offer and draw the batches' deviations."""
    start, end = day_number(scenario.start), day_number(scenario.end)
    most = max(len(spec.offers) for spec in scenario.patterns)
    shape = (len(scenario.patterns), most)
    undersize, begins, ends = (np.full(shape, np.nan) for _ in range(3))
    for p, spec in enumerate(scenario.patterns):
        k = len(spec.offers)
        undersize[p, :k] = [offer.undersize_um for offer in spec.offers]
        begins[p, :k] = [start + round(offer.begins * (end - start)) for offer in spec.offers]
        ends[p, :k] = [start + round(min(offer.ends, 9.0) * (end - start)) for offer in spec.offers]
    half_years = (end - start) // HALF_YEAR_DAYS + 1
    lanes = max(1, scenario.shafts // 2000)
    return Shelf(
        undersize_um=undersize,
        begins=begins,
        ends=ends,
        standard_um=np.array([spec.standard_um for spec in scenario.patterns]),
        batch_um=scenario.batch_sd_um * rng.standard_normal((*shape, half_years, lanes)),
    )


def policy_change_day(scenario: Scenario) -> int:
    """First day of the later policy."""
    start, end = day_number(scenario.start), day_number(scenario.end)
    return start + round(scenario.policy_change * (end - start))


def choose_method(
    read_um: FloatArray, day: FloatArray, in_workshop: BoolArray, scenario: Scenario, *, rng: np.random.Generator
) -> IntArray:
    """Choose how each hub is to be fitted, from the period and the mean reading; shape (n,), codes as above."""
    late = day >= policy_change_day(scenario)
    share = np.array(scenario.as_supplied_share)[late.astype(int)].clip(1e-9, 1 - 1e-9)
    deeper = (-read_um - scenario.wear_mean_um * (1 - scenario.unworn_share)) / 10.0
    odds = np.log(share / (1 - share)) + scenario.as_supplied_log_odds_per_10um * deeper
    supplied = rng.random(read_um.size) < 1.0 / (1.0 + np.exp(-odds))
    by_workshop = in_workshop & (rng.random(read_um.size) < scenario.workshop_fitted_share)
    return np.where(supplied, AS_SUPPLIED, np.where(by_workshop, WORKSHOP_FITTED, OWNER_FITTED))


def choose_size(
    shelf: Shelf,
    pattern: IntArray,
    day: FloatArray,
    basis_um: FloatArray,
    aim_um: FloatArray,
    swap: IntArray,
    lot: FloatArray,
    scenario: Scenario,
) -> pd.DataFrame:
    """Choose the size on the shelf that comes nearest to the clearance aimed at.

    Parameters
    ----------
    shelf : Shelf
        What is kept.
    pattern : ndarray of int, shape (n,)
        Pattern of each shaft.
    day : ndarray, shape (n,)
        Day of choice.
    basis_um : ndarray, shape (n,)
        Mean width above nominal that the choice believes in.
    aim_um : ndarray, shape (n,)
        Mean clearance aimed at, habits included.
    swap : ndarray of int, shape (n,)
        -1, 0 or 1: the neighbour taken for want of the right size.
    lot : ndarray, shape (n,)
        Uniform draw that decides where hubs are chosen at random.
    scenario : Scenario
        Says on what the choice is based.

    Returns
    -------
    DataFrame
        ``size`` (index on the shelf), ``undersize_um``, ``wanted_um`` (what would be exact), ``largest_um`` (kept).
    """
    wanted = shelf.standard_um[pattern] - basis_um - aim_um
    kept = (shelf.begins[pattern] <= day[:, None]) & (day[:, None] < shelf.ends[pattern])
    sizes = np.where(kept, shelf.undersize_um[pattern], np.inf)
    order = np.argsort(sizes, axis=1, kind="stable")
    ranked = np.take_along_axis(sizes, order, axis=1)
    count = kept.sum(axis=1)
    nearest = np.abs(ranked - wanted[:, None]).argmin(axis=1)
    if scenario.choice == "random":
        nearest = np.minimum((lot * count).astype(int), count - 1)
    rank = np.clip(nearest + swap, 0, count - 1)
    each = np.arange(wanted.size)
    return pd.DataFrame(
        {
            "size": order[each, rank],
            "undersize_um": ranked[each, rank],
            "wanted_um": wanted,
            "largest_um": ranked[each, count - 1],
        }
    )
