"""How a hub goes onto a shaft, what gap it leaves, and when it works loose or comes off for another cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.domain.contact import filing, gap_left
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.simulate.events.shafts import mean_of_places
from wearstats.simulate.scenario.scenario import Scenario

CHUNK = 100_000
"""Hubs seated at a time, so that a million shafts need little working memory."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seat:
    """Where a hub comes to rest.

    Parameters
    ----------
    gap_um : ndarray, shape (n,)
        Mean of the gap left over all places.
    clearance_um : ndarray, shape (n,)
        Space minus mean width.
    tightest_um : ndarray, shape (n,)
        Greatest filing at any place (what stops an as-supplied hub).
    filed_um : ndarray, shape (n,)
        Sum over the splines of the filing at the spline's worst place.
    spline_gap_um : ndarray, shape (n, most splines)
        Smallest gap left along each spline; NaN where the pattern has fewer.
    """

    gap_um: FloatArray
    clearance_um: FloatArray
    tightest_um: FloatArray
    filed_um: FloatArray
    spline_gap_um: FloatArray


def seat(width_um: FloatArray, space_um: FloatArray) -> Seat:
    """Bring hubs to rest on shafts: widths (n, splines, stations) and spaces (n,) from the same zero, in um."""
    starts = range(0, max(len(space_um), 1), CHUNK)
    parts = [_seat(width_um[begin : begin + CHUNK], space_um[begin : begin + CHUNK]) for begin in starts]
    return Seat(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in Seat.__slots__})


def _seat(width_um: FloatArray, space_um: FloatArray) -> Seat:
    space = space_um[:, None, None]
    left = gap_left(width_um, space)
    worst = np.nan_to_num(filing(width_um, space)).max(axis=2)
    return Seat(
        gap_um=mean_of_places(left),
        clearance_um=space_um - mean_of_places(width_um),
        tightest_um=worst.max(axis=1),
        filed_um=worst.sum(axis=1),
        spline_gap_um=left.min(axis=2),
    )


def log_hazard(
    gap_um: FloatArray, as_supplied: BoolArray, duty: IntArray, frailty: FloatArray, scenario: Scenario
) -> FloatArray:
    """Log hazard of working loose relative to the baseline at no gap, shape (n,)."""
    by_duty: FloatArray = np.array([kind.log_hazard for kind in scenario.duties])[duty]
    by_gap = np.multiply(gap_um, scenario.log_hazard_per_10um / 10.0)
    by_method = np.multiply(as_supplied, scenario.log_hazard_as_supplied)
    ratio: FloatArray = by_gap + by_method + by_duty + frailty
    return ratio


def baseline_scale(scenario: Scenario) -> float:
    """Scale of the baseline in months, from its 12-month risk at no gap."""
    hazard = -np.log1p(-scenario.risk_at_zero_gap)
    reach = hazard if scenario.loosening_family == "weibull" else np.expm1(hazard)
    return float(12.0 / reach ** (1.0 / scenario.loosening_shape))


def risk_by(months: float, log_ratio: FloatArray, scenario: Scenario) -> FloatArray:
    """Chance of having worked loose by some months, given the log hazard ratio; shape as `log_ratio`."""
    reach = (months / baseline_scale(scenario)) ** scenario.loosening_shape
    cumulative = reach if scenario.loosening_family == "weibull" else np.log1p(reach)
    risk: FloatArray = -np.expm1(-cumulative * np.exp(log_ratio))
    return risk


def draw_loosening(log_ratio: FloatArray, scenario: Scenario, *, rng: np.random.Generator) -> FloatArray:
    """Draw the months until each hub works loose, were nothing else to end its run; shape (n,)."""
    hazard = rng.standard_exponential(log_ratio.size) * np.exp(-log_ratio)
    reach = hazard if scenario.loosening_family == "weibull" else np.expm1(np.minimum(hazard, 700.0))
    return baseline_scale(scenario) * reach ** (1.0 / scenario.loosening_shape)


def draw_removal(count: int, scenario: Scenario, *, rng: np.random.Generator) -> tuple[FloatArray, IntArray]:
    """Draw the months until the first other cause ends each run, and which; both of shape (count,)."""
    rates = np.array([removal.rate_per_month for removal in scenario.removals])
    if rates.sum() <= 0:
        return np.full(count, np.inf), np.zeros(count, dtype=np.int64)
    months = rng.standard_exponential(count) / rates.sum()
    return months, rng.choice(rates.size, size=count, p=rates / rates.sum())


def days_of(months: FloatArray) -> FloatArray:
    """Turn months into whole days, at least one; infinity stays."""
    return np.maximum(np.ceil(months * MEAN_MONTH_DAYS), 1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noted:
    """What is written down about a fitting beside its method; NaN where it is not.

    Parameters
    ----------
    went_on : ndarray of int, shape (n,)
        Index into the contract's words, -1 where not noted.
    pulled_mm, filing_min, play_um, drive_marked, coast_marked : ndarray, shape (n,)
        As in the fittings table.
    """

    went_on: IntArray
    pulled_mm: FloatArray
    filing_min: FloatArray
    play_um: FloatArray
    drive_marked: FloatArray
    coast_marked: FloatArray


def note(
    where: Seat, hand: BoolArray, pull_on_mm: FloatArray, scenario: Scenario, *, rng: np.random.Generator
) -> Noted:
    """Write down how fittings went.

    Parameters
    ----------
    where : Seat
        How the hubs sit, n of them.
    hand : ndarray of bool, shape (n,)
        Filed by hand.
    pull_on_mm : ndarray, shape (n,)
        Usual last pull of the pattern.
    scenario : Scenario
        Shares and spreads.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    Noted
        Play is min(g/2 - e) + min(g/2 + e) over the splines, g the smallest gap of a spline and e its index error,
        read with an error; splines mark where their smallest gap is a few um at most.
    """
    n = hand.size
    tight = where.tightest_um
    # 1 slid-on, 2 tapped, 3 pulled-on; a filed hub is stopped short of home and pulled the last of the way
    word = np.where(tight <= 0, 1, np.where(~hand & (tight <= 6), 2, 3))
    word = np.where(rng.random(n) < scenario.went_on_share, word, -1)
    pull: FloatArray = np.maximum(pull_on_mm + 1.2 * rng.standard_normal(n), 0.5).round(1)
    pulled = np.where((word == 3) & (rng.random(n) < scenario.pulled_share), pull, np.nan)
    minutes = scenario.filing_base_min + scenario.filing_min_per_um * where.filed_um
    minutes = np.rint(minutes * np.exp(scenario.filing_log_sd * rng.standard_normal(n)))
    minutes = np.where(hand & (tight > 0) & (rng.random(n) < scenario.filing_share), minutes, np.nan)
    gap = where.spline_gap_um
    error = scenario.index_sd_um * rng.standard_normal(gap.shape)
    travel = np.nanmin(gap / 2 - error, axis=1) + np.nanmin(gap / 2 + error, axis=1)
    play = np.rint(np.maximum(np.maximum(travel, 0.0) + scenario.play_sd_um * rng.standard_normal(n), 0.0))
    play = np.where(rng.random(n) < scenario.play_share, play, np.nan)
    bears = 1.0 / (1.0 + np.exp(np.clip((np.nan_to_num(gap, nan=1e3) - 6.0) / 2.0, -50, 50)))
    noted = rng.random(n) < np.where(hand, scenario.marks_share, 0.3 * scenario.marks_share)
    drive, coast = ((rng.random(gap.shape) < bears).sum(axis=1).astype(float) for _ in range(2))
    return Noted(
        went_on=word,
        pulled_mm=pulled,
        filing_min=minutes,
        play_um=play,
        drive_marked=np.where(noted, drive, np.nan),
        coast_marked=np.where(noted, coast, np.nan),
    )
