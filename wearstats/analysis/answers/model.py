"""How often owners answer: a hazard by the time since the last answer, owners who differ, and some who never do.

Asking is no Poisson process: a shop that asks every half year hears from hardly anybody twice in a month [1]_. So the
hazard of the next answer about a hub goes by the time since the last one (or since it went into use), constant within
half a month; each owner has it a gamma distributed number of times as high, and a share of owners is silent for ever,
as buyers who have left are in counts of purchases [2]_. Never asked and never answering are not told apart.

Where answers come on common days the shop asks in rounds: at each an owner answers with a chance that is beta
distributed over the owners, and the next round is as far off as pauses between rounds have been.

What is not known of the parameters is carried by drawing them: the spread of the owners by its likelihood on a grid,
hazards by their counts.

References
----------
.. [1] C. Chatfield, G. J. Goodhardt, A consumer purchasing model with Erlang inter-purchase times, J. American
   Statistical Association 68 (1973) 828-835.
.. [2] D. C. Schmittlein, D. G. Morrison, R. Colombo, Counting your customers: who are they and what will they do next?
   Management Science 33 (1987) 1-24.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaln, gammaln, logsumexp

from wearstats.analysis.answers.records import AnswerRecords
from wearstats.domain.arrays import BoolArray, FloatArray

EDGES_MONTHS = np.concatenate([np.arange(0.0, 13.0, 0.5), [13.0, 14.0, 16.0, 18.0, 21.0, 24.0, 30.0, 36.0, 1e4]])
"""Between which the hazard of the next answer is constant, in months since the last.

Of a shop that asks on the day half a year after, steps of a month foretell a tenth too much of a quarter.
"""

SPREADS = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 32.0])
"""Shapes of the gamma law of owners that are tried: a large one, they are alike."""

_ROUNDS_OF_EM, _HALF = 40, 0.5
_SHARES = np.linspace(0.0, 0.95, 20)
_MEANS = np.linspace(0.05, 0.95, 19)
_MOST_ANSWERS = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LastAnswers:
    """When each hub is last answered for in the time ahead, drawn.

    Parameters
    ----------
    month : ndarray, shape (draws, hubs, times)
        Months from the day asked about; negative infinity where no answer comes after the records end.
    """

    month: FloatArray

    def answering(self, time: int) -> FloatArray:
        """Whether an answer comes by then, 0 or 1, shape (draws, hubs)."""
        return np.asarray(np.isfinite(self.month[:, :, time]), dtype=float)

    def after(self, time: int, months: float) -> FloatArray:
        """Give how much of the time ahead lies before the last answer in it, shape (draws, hubs)."""
        return np.asarray(np.clip(self.month[:, :, time] / months, 0.0, 1.0))


def draw_last_answers(
    records: AnswerRecords, chosen: BoolArray, *, ends: FloatArray, draws: int, rng: np.random.Generator
) -> LastAnswers:
    """Learn how owners answer, and draw when some hubs are last answered for by some days to come.

    Parameters
    ----------
    records : AnswerRecords
        All hubs that were in use.
    chosen : ndarray of bool, shape (hubs,)
        Of which is asked, all in use still.
    ends : ndarray, shape (times,)
        Months from the day asked about, in order.
    draws : int
        How many.
    rng : Generator
        For all of them. Hubs of one owner share draws: where they are asked about together they answer together.
    """
    if not records.month.size or not chosen.any():
        return LastAnswers(month=np.full((draws, int(chosen.sum()), ends.size), -np.inf))
    rounds = records.rounds()
    if rounds is not None:
        return _in_rounds(records, chosen, rounds, ends=ends, draws=draws, rng=rng)
    return _by_time_since(records, chosen, ends=ends, draws=draws, rng=rng)


def _by_time_since(
    records: AnswerRecords, chosen: BoolArray, *, ends: FloatArray, draws: int, rng: np.random.Generator
) -> LastAnswers:
    hub, length, answered = records.waits()
    owner = records.owner[hub]
    low, high = EDGES_MONTHS[:-1], EDGES_MONTHS[1:]
    watched = np.zeros((records.owners, low.size))
    for each in range(low.size):
        inside = np.clip(length, low[each], high[each]) - low[each]
        watched[:, each] = np.bincount(owner, inside, records.owners)
    bins = np.searchsorted(EDGES_MONTHS, length[answered], side="left").clip(1) - 1
    heard = np.bincount(bins, minlength=low.size).astype(float)
    count = np.bincount(owner[answered], minlength=records.owners).astype(float)
    fits = [_climb(watched, heard, count, spread) for spread in SPREADS]
    value = np.array([each[2] for each in fits])
    which = rng.choice(SPREADS.size, size=draws, p=np.exp(value - logsumexp(value)))
    hazard = (
        np.stack([each[0] for each in fits])[which] * rng.gamma(heard + _HALF, size=(draws, low.size)) / (heard + _HALF)
    )
    spread, silent = SPREADS[which], np.array([each[1] for each in fits])[which]
    # how many owners never answer is known no better than by the owners there are
    silent = rng.beta(_HALF + silent * records.owners, _HALF + (1.0 - silent) * records.owners)
    expected = hazard @ watched.T
    never = rng.random(expected.shape) < _silent_chance(expected, count, spread[:, None], silent[:, None])
    times = rng.gamma(spread[:, None] + count, size=expected.shape) / (spread[:, None] + expected)
    times = np.where(never, 0.0, times)[:, records.owner[chosen]]
    return LastAnswers(month=_walk(records, chosen, times, hazard, ends=ends, rng=rng))


def _climb(watched: FloatArray, heard: FloatArray, count: FloatArray, spread: float) -> tuple[FloatArray, float, float]:
    """Fit hazards and the silent share for one spread of the owners: expectation and maximisation; the likelihood."""
    total = watched.sum(axis=0)
    rate = heard.sum() / total.sum()
    hazard, silent = np.full(heard.size, rate), 0.5 * float((count == 0).mean())
    for _ in range(_ROUNDS_OF_EM):
        expected = watched @ hazard
        never = _silent_chance(expected, count, spread, silent)
        times = (1.0 - never) * (spread + count) / (spread + expected)
        # half an answer at the common rate steadies times of which little is known
        hazard = (heard + _HALF) / (times @ watched + _HALF / rate)
        silent = float(never.mean())
    expected = watched @ hazard
    log = spread * np.log(spread) - (spread + count) * np.log(spread + expected) + gammaln(spread + count)
    log += np.log1p(-silent) - gammaln(spread)
    log = np.where(count == 0, np.logaddexp(log, np.log(max(silent, 1e-300))), log)
    return hazard, silent, float(log.sum() + heard @ np.log(hazard))


def _silent_chance(
    expected: FloatArray, count: FloatArray, spread: FloatArray | float, silent: FloatArray | float
) -> FloatArray:
    """Give the chance that an owner never answers, now that so many answers came where so many were expected."""
    unheard = (spread / (spread + expected)) ** spread
    return np.asarray(np.where(count == 0, silent / (silent + (1.0 - silent) * unheard), 0.0))


def _walk(
    records: AnswerRecords,
    chosen: BoolArray,
    times: FloatArray,
    hazard: FloatArray,
    *,
    ends: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Let the answers come one after the other, and keep the last by each end; (draws, hubs, times)."""
    draws, hubs = times.shape
    owner = records.owner[chosen]
    at = np.tile(records.stop[chosen], (draws, 1))
    waited = np.tile(records.since()[chosen], (draws, 1))
    last = np.full((draws, hubs, ends.size), -np.inf)
    reach = np.concatenate([np.zeros((draws, 1)), np.cumsum(hazard * np.diff(EDGES_MONTHS), axis=1)], axis=1)
    for _ in range(_MOST_ANSWERS):
        need = rng.exponential(size=(draws, records.owners))[:, owner]
        for draw in range(draws):
            gone = np.interp(waited[draw], EDGES_MONTHS, reach[draw])
            with np.errstate(divide="ignore"):
                goal = gone + need[draw] / times[draw]
            at[draw] += np.interp(goal, reach[draw], EDGES_MONTHS, right=np.inf) - waited[draw]
        waited[:] = 0.0
        for each, end in enumerate(ends):
            last[:, :, each] = np.where(at <= end, at, last[:, :, each])
        if (at > ends[-1]).all():
            break
    return last


def _in_rounds(
    records: AnswerRecords,
    chosen: BoolArray,
    rounds: FloatArray,
    *,
    ends: FloatArray,
    draws: int,
    rng: np.random.Generator,
) -> LastAnswers:
    asked = (records.start[:, None] < rounds) & (rounds <= records.stop[:, None] + 1e-9)
    heard = np.zeros_like(asked)
    heard[records.hub, np.abs(records.month[:, None] - rounds).argmin(axis=1)] = True
    # hub by hub, for of an owner's hubs not all may be answered for
    count, many = (np.bincount(records.owner, each.sum(axis=1)) for each in (heard, asked | heard))
    mean, spread, silent = (each.ravel() for each in np.meshgrid(_MEANS, 2.0 * SPREADS, _SHARES, indexing="ij"))
    one, other = mean * spread, (1.0 - mean) * spread
    kinds, times = np.unique(np.stack([count, many]), axis=1, return_counts=True)
    value = np.zeros(mean.size)
    for (c, m), often in zip(kinds.T, times, strict=True):
        log = np.log1p(-silent) + betaln(one + c, other + m - c) - betaln(one, other)
        value += often * (np.logaddexp(log, np.log(np.maximum(silent, 1e-300))) if c == 0 else log)
    which = rng.choice(mean.size, size=draws, p=np.exp(value - logsumexp(value)))
    one, other, silent = one[which, None], other[which, None], silent[which, None]
    unheard = np.exp(betaln(one, other + many) - betaln(one, other))
    never = rng.random((draws, count.size)) < np.where(count == 0, silent / (silent + (1 - silent) * unheard), 0.0)
    chance = np.where(never, 0.0, rng.beta(one + count, other + many - count))
    return LastAnswers(month=_next_rounds(records, chosen, rounds, chance, ends=ends, rng=rng))


def _next_rounds(
    records: AnswerRecords,
    chosen: BoolArray,
    rounds: FloatArray,
    chance: FloatArray,
    *,
    ends: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Let rounds come as far apart as before, the same for all hubs of a draw; (draws, hubs, times)."""
    draws, owner = chance.shape[0], records.owner[chosen]
    pauses = np.diff(rounds)
    silent = float(records.stop[chosen].max()) - rounds[-1]
    longer = pauses[pauses > silent]
    # later than ever before: it may come any day
    first = rng.choice(longer, draws) if longer.size else silent + rng.random(draws) * pauses.mean()
    at = rounds[-1] + first
    last = np.full((draws, owner.size, ends.size), -np.inf)
    while (at <= ends[-1]).any():
        answers = (rng.random(chance.shape) < chance)[:, owner]
        for each, end in enumerate(ends):
            last[:, :, each] = np.where(answers & (at <= end)[:, None], at[:, None], last[:, :, each])
        at = at + rng.choice(pauses, draws)
    return last
