"""Owners and shafts as they truly are: new widths, wear, scatter, hollows; and how they wear on under a hub."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.simulate.scenario.scenario import Scenario

STATION_COUNT = 3
YEARS_BEFORE = 6.0
"""Years that an engine with the mean wear of its duty has run before it is first measured."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Owners:
    """People who measure at home.

    Parameters
    ----------
    gauge : ndarray of int, shape (owners,)
        Index into the scenario's home gauges.
    bias_um : ndarray, shape (owners,)
        Bias of this person with this gauge, the mean home bias included.
    silent : ndarray of bool, shape (owners,)
        Never answers when asked.
    region : ndarray of int, shape (owners,)
        Index into the scenario's regions.
    hand_bias_um : ndarray, shape (hands,)
        Bias of the workshop's people, who share one kind of gauge.
    """

    gauge: IntArray
    bias_um: FloatArray
    silent: BoolArray
    region: IntArray
    hand_bias_um: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shafts:
    """Shafts on the day they are first measured.

    Parameters
    ----------
    owner, pattern, duty : ndarray of int, shape (shafts,)
        Indices.
    splines : ndarray of int, shape (shafts,)
        Splines of the pattern.
    new_um : ndarray, shape (shafts,)
        New width above the nominal one.
    wear_um : ndarray, shape (shafts,)
        Metal lost, 0 on unworn shafts.
    width_um : ndarray, shape (shafts, most splines, stations)
        True widths above the nominal new width (so mostly negative); NaN where the pattern has fewer splines.
    hours : ndarray, shape (shafts,)
        Running hours so far.
    """

    owner: IntArray
    pattern: IntArray
    duty: IntArray
    splines: IntArray
    new_um: FloatArray
    wear_um: FloatArray
    width_um: FloatArray
    hours: FloatArray


def is_caliper(scenario: Scenario) -> BoolArray:
    """Tell which of the home gauges are calipers, shape (home gauges,)."""
    return np.array([gauge.kind == "caliper" for gauge in scenario.home_gauges])


def draw_owners(scenario: Scenario, count: int, *, rng: np.random.Generator) -> Owners:
    """Draw people, their gauges and their biases."""
    shares = np.array([gauge.share for gauge in scenario.home_gauges])
    gauge = rng.choice(shares.size, size=count, p=shares / shares.sum())
    spread = np.where(is_caliper(scenario)[gauge], scenario.caliper_measurer_sd_um, scenario.home_measurer_sd_um)
    return Owners(
        gauge=gauge,
        bias_um=scenario.home_bias_um + spread * rng.standard_normal(count),
        silent=rng.random(count) < scenario.silent_owner_share,
        region=rng.integers(len(scenario.regions), size=count),
        hand_bias_um=scenario.workshop_measurer_sd_um * rng.standard_normal(scenario.workshop_hands),
    )


def share_out_owners(scenario: Scenario, *, rng: np.random.Generator) -> IntArray:
    """Give every shaft an owner; a share of the owners has two shafts."""
    twice = round(scenario.shafts * scenario.two_shaft_owner_share / (1.0 + scenario.two_shaft_owner_share))
    once = np.arange(scenario.shafts - twice)
    return rng.permutation(np.concatenate([once, rng.permutation(once)[:twice]]))


def draw_shafts(scenario: Scenario, owner: IntArray, *, rng: np.random.Generator) -> Shafts:
    """Draw what the shafts are like when first measured.

    Width above nominal = new width + station mean - wear (and its hollow) + the shaft's own hollow or taper
    + spline + place.
    """
    n = scenario.shafts
    pattern_share = np.array([spec.share for spec in scenario.patterns])
    pattern = rng.choice(pattern_share.size, size=n, p=pattern_share / pattern_share.sum())
    duty_share = np.array([duty.share for duty in scenario.duties])
    duty = rng.choice(duty_share.size, size=n, p=duty_share / duty_share.sum())
    mean_wear = scenario.wear_mean_um * np.array([kind.wear_factor for kind in scenario.duties])[duty]
    worn = rng.random(n) >= scenario.unworn_share
    wear = np.where(worn, mean_wear / scenario.wear_shape * rng.standard_gamma(scenario.wear_shape, size=n), 0.0)
    new = scenario.new_mean_um + scenario.new_sd_um * rng.standard_normal(n)
    splines = np.array([spec.splines for spec in scenario.patterns])[pattern]
    shape = (n, int(max(spec.splines for spec in scenario.patterns)), STATION_COUNT)
    width = scenario.cell_sd_um * rng.standard_normal(shape)
    width += scenario.spline_sd_um * rng.standard_normal(shape[:2])[:, :, None]
    hollow = np.outer(wear, scenario.hollow_per_wear * np.array([1.0, -2.0, 1.0]) / 3.0)
    own = scenario.shaft_station_sd_um * rng.standard_normal((n, STATION_COUNT))
    width += ((new - wear)[:, None] + np.asarray(scenario.station_um) + hollow + own)[:, None, :]
    width[np.arange(shape[1])[None, :] >= splines[:, None]] = np.nan
    daily = np.array([kind.hours_a_day for kind in scenario.duties])[duty]
    hours = daily * 365.25 * YEARS_BEFORE * (0.4 + 0.6 * wear / mean_wear) * np.exp(0.3 * rng.standard_normal(n))
    return Shafts(
        owner=owner,
        pattern=pattern,
        duty=duty,
        splines=splines,
        new_um=new,
        wear_um=wear,
        width_um=width,
        hours=hours,
    )


def mean_of_places(values: FloatArray) -> FloatArray:
    """Mean over splines and stations, passing over places that the pattern has not: (n, splines, stations) -> (n,)."""
    there = ~np.isnan(values)
    total: FloatArray = np.where(there, values, 0.0).sum(axis=(1, 2))
    count: IntArray = there.sum(axis=(1, 2))
    return total / count


def wear_on(
    width_um: FloatArray,
    duty: IntArray,
    tight_h: FloatArray,
    loose_h: FloatArray,
    scenario: Scenario,
    *,
    rng: np.random.Generator,
) -> FloatArray:
    """Wear shafts on under a hub.

    Parameters
    ----------
    width_um : ndarray, shape (n, splines, stations)
        Widths before.
    duty : ndarray of int, shape (n,)
        Index into the scenario's duties.
    tight_h, loose_h : ndarray, shape (n,)
        Hours run while the hub was tight and while it was loose.
    scenario : Scenario
        Gives rates and their spread.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    ndarray, same shape as `width_um`
        Widths after: the whole shaft lost the same, places a tenth of it more or less.
    """
    factor = np.array([kind.growth_factor for kind in scenario.duties])[duty]
    mean = scenario.growth_um_per_1000h * factor * (tight_h + scenario.loose_growth_factor * loose_h) / 1000.0
    if scenario.growth_cv > 0:
        shape = scenario.growth_cv**-2
        mean = mean * rng.standard_gamma(shape, size=mean.shape) / shape
    uneven = 1.0 + 0.1 * rng.standard_normal(width_um.shape)
    worn: FloatArray = width_um - mean[:, None, None] * uneven
    return worn
