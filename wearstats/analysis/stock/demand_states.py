"""The courses that demand may take, each followed through the quarters on a grid of levels.

A course says how the expected count of a quarter goes with its level: steady, by a trend, by a level that drifts; with
or without a season; and how the counts scatter about it: as a Poisson count, or more, by a gamma factor of mean one and
shape ``k`` that a whole quarter shares (negative binomial). Given the course only the level is unknown, and one
dimension is summed exactly. A drifting level is forgotten by raising its density to a power below one before each new
quarter, the discount of Smith (J. R. Statist. Soc. B 41 (1979) 375). The product of what each quarter was predicted is
the evidence for a course.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, logsumexp

from wearstats.domain.arrays import FloatArray

SHAPES = (np.inf, 1.5, 3.0, 6.0, 12.0, 30.0)
"""Shapes of the factor that a quarter shares; the first is none at all: Poisson."""

POISSON = 0.25
"""Beforehand: few quarters cannot rule scatter out, and intervals that leave it out hold too seldom."""

_TREND_SD = 0.08
_TRENDS = np.array([-0.18, -0.1, -0.05, 0.05, 0.1, 0.18])
_DISCOUNTS = np.array([0.9, 0.75, 0.6])
_SWINGS = np.array([0.25, 0.55])
_PHASES = np.arange(8) / 8.0
_STEADY, _TREND, _DRIFT = 0.5, 0.25, 0.25
_SEASON = 0.25
_LEVELS = 96


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Courses:
    """Every course looked at; arrays of shape (courses,).

    Parameters
    ----------
    prior : ndarray
        Their probabilities beforehand.
    trend : ndarray
        Growth of the log level a quarter.
    discount : ndarray
        Power by which the level is forgotten a quarter; 1 where it stays.
    swing, phase : ndarray
        Amplitude of the log level over the year, 0 without season; part of the year at which it is highest.
    shape : ndarray
        ``k``; infinite for Poisson.
    """

    prior: FloatArray
    trend: FloatArray
    discount: FloatArray
    swing: FloatArray
    phase: FloatArray
    shape: FloatArray

    def factor(self, since: FloatArray, of_year: FloatArray) -> FloatArray:
        """Give what multiplies the level.

        Parameters
        ----------
        since : ndarray, shape (times,)
            Quarters since the middle of the record.
        of_year : ndarray, shape (times,)
            Part of the year, 0 to 1.

        Returns
        -------
        ndarray, shape (courses, times)
            Its mean over a year is one for every season.
        """
        turn = 2.0 * np.pi * (of_year[None, :] - self.phase[:, None])
        season = self.swing[:, None] * np.cos(turn) - np.log(np.i0(self.swing))[:, None]
        return np.asarray(np.exp(self.trend[:, None] * since[None, :] + season))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Followed:
    """What the record says of every course.

    Parameters
    ----------
    posterior : ndarray, shape (courses,)
        Probability of each course.
    log_levels : ndarray, shape (levels,)
        Grid of log levels, orders a quarter.
    density : ndarray, shape (courses, levels)
        Probability of each level at the end of the record, given the course.
    """

    posterior: FloatArray
    log_levels: FloatArray
    density: FloatArray


def list_courses(*, may_turn: bool) -> Courses:
    """List the courses with their prior probabilities.

    Parameters
    ----------
    may_turn : bool
        Whether the record is long enough for trend and season.
    """
    slope = np.exp(-0.5 * (_TRENDS / _TREND_SD) ** 2)
    slope = _TREND * slope / slope.sum() if may_turn else np.zeros(0)
    course = np.array(
        [
            (_STEADY if may_turn else _STEADY + _TREND, 0.0, 1.0),
            *zip(slope, _TRENDS[: slope.size], np.ones(slope.size), strict=True),
            *((_DRIFT / _DISCOUNTS.size, 0.0, discount) for discount in _DISCOUNTS),
        ]
    )
    swings = [(1.0, 0.0, 0.0)]
    if may_turn:
        share = _SEASON / (_SWINGS.size * _PHASES.size)
        swings = [(1.0 - _SEASON, 0.0, 0.0), *((share, swing, phase) for swing in _SWINGS for phase in _PHASES)]
    season = np.array(swings)
    shape = np.array([(POISSON, SHAPES[0]), *(((1.0 - POISSON) / (len(SHAPES) - 1), shape) for shape in SHAPES[1:])])
    a, b, c = np.indices((len(course), len(season), len(shape))).reshape(3, -1)
    return Courses(
        prior=course[a, 0] * season[b, 0] * shape[c, 0],
        trend=course[a, 1],
        discount=course[a, 2],
        swing=season[b, 1],
        phase=season[b, 2],
        shape=shape[c, 1],
    )


def follow(courses: Courses, counts: FloatArray, exposure: FloatArray, of_year: FloatArray) -> Followed:
    """Follow every course through the record.

    Parameters
    ----------
    courses : Courses
        From `list_courses`.
    counts : ndarray, shape (quarters,)
        Demand in each.
    exposure : ndarray, shape (quarters,)
        Part of each quarter that is on record, above 0.
    of_year : ndarray, shape (quarters,)
        Part of the year in the middle of each.

    Returns
    -------
    Followed
    """
    since = np.arange(counts.size, dtype=np.float64) - (counts.size - 1) / 2.0
    factor = courses.factor(since, of_year) * exposure
    total = float(counts.sum())
    reach = np.log(6.0) * min(1.0, (2000.0 / max(total, 1.0)) ** 0.5) + 3.0 / np.sqrt(total + 0.5)
    log_levels = np.log((total + 0.5) / exposure.sum()) + np.linspace(-reach, reach, _LEVELS)
    # a density falling as the root of the level: the usual reference for a Poisson mean (Jeffreys)
    start = 0.5 * log_levels
    density = np.tile(start - logsumexp(start), (courses.prior.size, 1))
    evidence = np.zeros(courses.prior.size)
    log_factor = np.log(factor)
    forgets = courses.discount < 1.0
    for t, count in enumerate(counts):
        if t:
            forgotten = density[forgets] * courses.discount[forgets, None]
            density[forgets] = forgotten - _log_total(forgotten)[:, None]
        density += count_log_chance(count, log_factor[:, t, None] + log_levels, courses.shape)
        step = _log_total(density)
        evidence += step
        density -= step[:, None]
    weight = np.log(courses.prior) + evidence
    return Followed(
        posterior=np.exp(weight - logsumexp(weight)),
        log_levels=log_levels,
        density=np.exp(density),
    )


def count_log_chance(count: float, log_mean: FloatArray, shape: FloatArray) -> FloatArray:
    """Log probability of a count.

    Parameters
    ----------
    count : float
        The count.
    log_mean : ndarray, shape (courses, levels)
        Log of its mean.
    shape : ndarray, shape (courses,)
        Shape of the shared factor; infinite for Poisson.

    Returns
    -------
    ndarray, shape (courses, levels)
    """
    mean = np.exp(log_mean)
    chance = count * log_mean - mean
    mixed = np.isfinite(shape)
    k = shape[mixed, None]
    share = np.log1p(mean[mixed] / k)
    chance[mixed] = gammaln(count + k) - gammaln(k) - count * np.log(k) - (count + k) * share + count * log_mean[mixed]
    return np.asarray(chance - gammaln(count + 1.0))


def _log_total(density: FloatArray) -> FloatArray:
    """Log of the sums of the rows' exponentials, shape (courses,)."""
    top = density.max(axis=1)
    return np.asarray(top + np.log(np.exp(density - top[:, None]).sum(axis=1)))
