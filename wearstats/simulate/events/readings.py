"""Inspections: what a person with a gauge reads on a shaft, with biases, scatter, rounding and missing places."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.domain.units import um_per
from wearstats.simulate.events.shafts import Owners, is_caliper
from wearstats.simulate.scenario.kinds import GaugeType
from wearstats.simulate.scenario.scenario import Scenario

CHUNK = 100_000
"""Inspections simulated at a time, so that a million shafts need little working memory."""

SmallArray = NDArray[np.int8]
StepArray = NDArray[np.int32]


def step_um(gauge: GaugeType) -> float:
    """Give a gauge's step in micrometres."""
    return float(gauge.resolution) * um_per(gauge.unit)


def all_gauges(scenario: Scenario) -> tuple[GaugeType, ...]:
    """List the home gauges and, last, the workshop's."""
    return (*scenario.home_gauges, scenario.workshop_gauge)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadingRows:
    """Readings of many inspections, one element a reading.

    Parameters
    ----------
    trial : int
        1, or 2 for those measured a second time at once.
    inspection : ndarray of int32
        Row in the ledger's inspections; never falls.
    spline : ndarray of int8
        Number as written down, from 1.
    station : ndarray of int8
        Index from the shoulder.
    steps : ndarray of int32
        The width read, in steps of the gauge.
    """

    trial: int
    inspection: StepArray
    spline: SmallArray
    station: SmallArray
    steps: StepArray


@dataclass(slots=True, kw_only=True, eq=False)
class InspectionLedger:
    """All inspections so far, in the order in which they were simulated.

    Parameters
    ----------
    blocks : list of DataFrame
        One row an inspection: ``shaft``, ``period``, ``day``, ``at_home``, ``person`` (owner or hand), ``gauge`` (index
        into `all_gauges`), ``hours``, ``marked``, ``check_steps`` (-1 without), ``bias_um`` (of the occasion).
    readings : list of ReadingRows
        Their readings.
    count : int
        Inspections so far.
    """

    blocks: list[pd.DataFrame] = field(default_factory=list)
    readings: list[ReadingRows] = field(default_factory=list)
    count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Summary:
    """What the shop makes of some inspections when it chooses a hub.

    Parameters
    ----------
    row : ndarray of int, shape (inspections,)
        Rows in the ledger.
    mean_um, hollow_um : ndarray, shape (inspections,)
        Mean reading above the nominal width; how much lower the lowest station's mean is than the highest's.
    """

    row: IntArray
    mean_um: FloatArray
    hollow_um: FloatArray


def inspect(
    ledger: InspectionLedger,
    visits: pd.DataFrame,
    width_um: FloatArray,
    splines: IntArray,
    nominal_um: FloatArray,
    owners: Owners,
    scenario: Scenario,
    *,
    rng: np.random.Generator,
) -> Summary:
    """Simulate inspections and write them into the ledger.

    Parameters
    ----------
    ledger : InspectionLedger
        Grows by the new inspections.
    visits : DataFrame, n rows
        ``shaft``, ``period``, ``day``, ``at_home``, ``person``, ``hours``.
    width_um : ndarray, shape (n, most splines, stations)
        True widths above nominal, NaN where there is no spline.
    splines : ndarray of int, shape (n,)
        Splines of each shaft.
    nominal_um : ndarray, shape (n,)
        Nominal new widths.
    owners : Owners
        Biases and gauges.
    scenario : Scenario
        Spreads and shares.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    Summary
    """
    n = len(visits)
    at_home = visits["at_home"].to_numpy(dtype=bool)
    person = visits["person"].to_numpy(dtype=np.int64)
    owner = np.where(at_home, person, 0)
    gauge = np.where(at_home, owners.gauge[owner], len(scenario.home_gauges))
    caliper = np.append(is_caliper(scenario), False)[gauge]
    measurer = np.where(at_home, owners.bias_um[owner], owners.hand_bias_um[np.where(at_home, 0, person)])
    kind = np.where(caliper, 2, np.where(at_home, 0, 1))
    spread = [scenario.home_inspection_sd_um, scenario.workshop_inspection_sd_um, scenario.caliper_inspection_sd_um]
    scatter = [scenario.home_repeatability_um, scenario.workshop_repeatability_um, scenario.caliper_repeatability_um]
    bias = np.array(spread)[kind] * rng.standard_normal(n)
    repeat = np.array(scatter)[kind]
    step = np.array([step_um(each) for each in all_gauges(scenario)])[gauge]
    marked = (rng.random(n) < scenario.marked_share) | ~at_home
    ends_only = (rng.random(n) < scenario.ends_only_share) & at_home
    trials = (rng.random(n) < scenario.trials_share) & at_home
    checked = (rng.random(n) < scenario.check_piece_share) & at_home
    check = np.rint((nominal_um + measurer + bias + repeat * rng.standard_normal(n)) / step)
    block = visits[["shaft", "period", "day", "at_home", "person", "hours"]].reset_index(drop=True)
    ledger.blocks.append(
        block.assign(gauge=gauge, marked=marked, check_steps=np.where(checked, check, -1).astype(int), bias_um=bias)
    )
    first = np.where(marked, 0, rng.integers(64, size=n) % splines)
    mean = np.empty(n)
    hollow = np.empty(n)
    for begin in range(0, n, CHUNK):
        part = slice(begin, min(begin + CHUNK, n))
        numbered = _number_from(width_um[part], splines[part], first[part])
        there = (rng.random(numbered.shape) >= scenario.missing_share) & ~np.isnan(numbered)
        there[:, 0, 0] = True
        there[:, :, 1] &= ~ends_only[part, None]
        level = np.nan_to_num(numbered) + (nominal_um + measurer + bias)[part, None, None]
        read = _read(level, repeat[part], step[part], rng=rng)
        again = np.flatnonzero(trials[part])
        second = _read(level[again], repeat[part][again], step[part][again], rng=rng)
        base = ledger.count + begin
        ledger.readings.append(_rows(read, there, np.arange(base, base + len(read)), trial=1))
        if again.size:
            ledger.readings.append(_rows(second, there[again], base + again, trial=2))
        above = np.where(there, read * step[part, None, None] - nominal_um[part, None, None], 0.0)
        mean[part] = above.sum(axis=(1, 2)) / there.sum(axis=(1, 2))
        by_station = above.sum(axis=1) / np.maximum(there.sum(axis=1), 1)
        empty = there.sum(axis=1) == 0
        hollow[part] = np.where(empty, -np.inf, by_station).max(1) - np.where(empty, np.inf, by_station).min(1)
    summary = Summary(row=np.arange(ledger.count, ledger.count + n), mean_um=mean, hollow_um=hollow)
    ledger.count += n
    return summary


def _read(level: FloatArray, repeat: FloatArray, step: FloatArray, *, rng: np.random.Generator) -> FloatArray:
    """Read widths of ``level`` (n, splines, stations) um in whole steps of the gauge."""
    scattered = level + repeat[:, None, None] * rng.standard_normal(level.shape)
    return np.rint(scattered / step[:, None, None])


def _number_from(width_um: FloatArray, splines: IntArray, first: IntArray) -> FloatArray:
    """Renumber splines so that the one of index `first` is called 1; those a pattern has not stay last."""
    index = np.arange(width_um.shape[1])[None, :]
    turned = np.where(index < splines[:, None], (index + first[:, None]) % splines[:, None], index)
    return np.take_along_axis(width_um, turned[:, :, None], axis=1)


def _rows(read: FloatArray, there: BoolArray, inspection: IntArray, *, trial: int) -> ReadingRows:
    """List the readings that were taken, inspection by inspection, spline by spline."""
    at, spline, station = np.nonzero(there)
    return ReadingRows(
        trial=trial,
        inspection=inspection[at].astype(np.int32),
        spline=(spline + 1).astype(np.int8),
        station=station.astype(np.int8),
        steps=read[there].astype(np.int32),
    )
