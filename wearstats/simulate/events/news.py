"""What becomes known of a fitting: answers when asked, failures reported unasked, silence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.simulate.scenario.scenario import Scenario

TIGHT, NO_ANSWER = "tight", "no-answer"

Words = str | NDArray[np.object_]
"""One word for all rows, or one for each."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class News:
    """Follow-ups of n fittings and how each run ended as far as anybody knows.

    Parameters
    ----------
    follow_ups : DataFrame
        ``row`` (0 to n - 1), ``day``, ``state``, ``prompted``, ``how``, ``cause``, ``failed_day`` (when it came
        loose, as its owner says; infinite where nobody says).
    seen_day : ndarray, shape (n,)
        Day on which the end of the run became known; infinity where it never did.
    failed : ndarray of bool, shape (n,)
        Whether the run ended by working loose on the flanks, known or not, before the study's end.
    known : ndarray of bool, shape (n,)
        Whether the fitting is on record at all (hubs learnt of later are not if they had ended by then).
    """

    follow_ups: pd.DataFrame
    seen_day: FloatArray
    failed: BoolArray
    known: BoolArray


def ask_days(fit_day: FloatArray, end: int, scenario: Scenario, *, rng: np.random.Generator) -> FloatArray:
    """Draw the days on which the shop asks after each fitting, shape (n, visits); those after the end are infinite."""
    months = (end - fit_day.min(initial=end)) / MEAN_MONTH_DAYS
    visits = int(np.ceil(1.8 * months / max(scenario.asked_every_months, 0.5))) + 2
    shape = scenario.asked_cv**-2
    wait = rng.standard_gamma(shape, size=(fit_day.size, visits)) / shape
    wait[:, 0] *= scenario.first_asked_months
    wait[:, 1:] *= scenario.asked_every_months
    days = fit_day[:, None] + np.cumsum(np.maximum(np.rint(wait * MEAN_MONTH_DAYS), 20.0), axis=1)
    return np.where(days <= end, days, np.inf)


def follow(
    fit_day: FloatArray,
    loose_day: FloatArray,
    other_day: FloatArray,
    other: IntArray,
    silent: BoolArray,
    known_from: FloatArray,
    end: int,
    scenario: Scenario,
    *,
    rng: np.random.Generator,
) -> News:
    """Follow fittings until the end of the study.

    Parameters
    ----------
    fit_day, loose_day, other_day : ndarray, shape (n,)
        Day of fitting, day on which it works loose, day on which another cause ends the run.
    other : ndarray of int, shape (n,)
        Index of that cause among the scenario's removals.
    silent : ndarray of bool, shape (n,)
        The owner never answers.
    known_from : ndarray, shape (n,)
        Day from which the fitting is known; minus infinity for those known at once.
    end : int
        Last day of the study.
    scenario : Scenario
        Chances and delays.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    News
    """
    n = fit_day.size
    ended = np.minimum(loose_day, other_day)
    by_flank = loose_day <= other_day
    late = np.isfinite(known_from)
    known = ~late | ((known_from < ended) & (known_from <= end))
    days = ask_days(fit_day, end, scenario, rng=rng)
    days = np.where(days > known_from[:, None], days, np.inf)
    answers = (rng.random(days.shape) >= scenario.no_answer_share) & ~silent[:, None] & np.isfinite(days)
    noted = (rng.random(days.shape) < scenario.no_answer_noted_share) & np.isfinite(days)
    chance = np.where(by_flank, scenario.reported_unasked, scenario.removal_reported)
    delay = np.minimum(np.floor(rng.standard_exponential(n) * scenario.report_delay_days), 30.0)
    report = np.where(rng.random(n) < chance, ended + delay, np.inf)
    report = np.where(report <= end, report, np.inf)
    found = np.where(answers & (days >= ended[:, None]), days, np.inf).min(axis=1, initial=np.inf)
    seen = np.where(known, np.minimum(report, found), np.inf)
    before = (days < seen[:, None]) & known[:, None]
    tight = before & answers & (days < ended[:, None])
    blank = before & ~answers & noted
    parts = [
        _answers(tight, days, TIGHT, rng=rng),
        _answers(blank, days, NO_ANSWER, rng=rng),
        _learnt(np.flatnonzero(late & known), known_from),
        _endings(np.flatnonzero(np.isfinite(seen)), seen, report <= found, by_flank, other, scenario, rng=rng),
    ]
    told = pd.concat(parts, ignore_index=True)
    row = told["row"].to_numpy(dtype=np.int64)
    loose = told["state"].isin(["loose", "broken"]).to_numpy(dtype=bool) & by_flank[row]
    # an own stream: what else is drawn stays as it was before anybody was asked for the day
    says = loose & (rng.spawn(1)[0].random(row.size) < scenario.day_told_share)
    return News(
        follow_ups=told.assign(failed_day=np.where(says, loose_day[row], np.inf)),
        seen_day=seen,
        failed=by_flank & (loose_day <= end),
        known=known,
    )


def _answers(where: BoolArray, days: FloatArray, state: str, *, rng: np.random.Generator) -> pd.DataFrame:
    """List what asking brought while nothing had happened."""
    row, visit = np.nonzero(where)
    ways = np.array(["said-so", "rocked-by-hand", "dial-gauge"], dtype=object)
    how = rng.choice(ways, p=[0.55, 0.4, 0.05], size=row.size)
    return _frame(row, days[row, visit], state, "asked", how if state == TIGHT else "", "")


def _learnt(row: IntArray, known_from: FloatArray) -> pd.DataFrame:
    """List the first news of hubs that were sold through a dealer."""
    return _frame(row, known_from[row], TIGHT, "asked", "said-so", "")


def _endings(
    row: IntArray,
    seen: FloatArray,
    unasked: BoolArray,
    by_flank: BoolArray,
    other: IntArray,
    scenario: Scenario,
    *,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """List the ends of runs as they became known."""
    states = np.array([removal.state for removal in scenario.removals] or [""], dtype=object)
    causes = np.array([removal.cause for removal in scenario.removals] or [""], dtype=object)
    flank = by_flank[row]
    apart = rng.random(row.size)
    state = np.where(flank, np.where(apart < 0.12, "broken", "loose").astype(object), states[other[row]])
    cause = np.where(
        flank, np.where(rng.random(row.size) < 0.07, "unknown", "flanks").astype(object), causes[other[row]]
    )
    how = rng.choice(np.array(["said-so", "rocked-by-hand", "taken-off"], dtype=object), size=row.size)
    how = np.where(state == "removed", "taken-off", how)
    prompted = np.where(unasked[row], "unasked", "asked").astype(object)
    return _frame(row, seen[row], state, prompted, how, cause)


def _frame(row: IntArray, day: FloatArray, state: Words, prompted: Words, how: Words, cause: Words) -> pd.DataFrame:
    """Make follow-up rows; a text stands for all rows alike."""
    frame = pd.DataFrame({"row": row, "day": day})
    return frame.assign(state=state, prompted=prompted, how=how, cause=cause)
