"""How long a cumulative sum runs before it crosses its limit: the mean run length, exact for steps with a known law.

From a sum x the next step v leads to ``max(0, x + v)``, or over the limit and to a signal. The mean run length obeys
``L(x) = 1 + sum over v of P(v) L(max(0, x + v))``, solved on a fine grid of sums with straight lines between [1]_.

References
----------
.. [1] D. Brook, D. A. Evans, An approach to the probability distribution of cusum run length, Biometrika 59 (1972)
   539-549 (the chain; there with states in place of straight lines).
"""

from __future__ import annotations

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from wearstats.domain.arrays import FloatArray

_STATES = 240
_LONGEST = 1e9
_NEAR = 1e-4


def mean_run_length(steps: FloatArray, chance: FloatArray, limit: float, *, states: int = _STATES) -> float:
    """Give the mean number of steps from 0 to a signal.

    Parameters
    ----------
    steps, chance : ndarray, shape (steps,)
        What a step can be, and how likely.
    limit : float
        Above 0; a sum that reaches it is a signal.
    states : int
        Points of the grid.

    Returns
    -------
    float
    """
    grid = np.linspace(0.0, limit, states + 1)[:-1]
    width = limit / states
    reached = np.maximum(grid[:, None] + steps, 0.0)
    inside = reached < limit - 1e-12
    place = np.minimum(reached / width, states - 1)
    below = np.minimum(place.astype(np.int64), states - 2)
    share = place - below
    mass = np.where(inside, chance, 0.0)
    rows = np.broadcast_to(np.arange(states)[:, None], below.shape)
    moves = np.zeros((states, states))
    np.add.at(moves, (rows, below), mass * (1.0 - share))
    np.add.at(moves, (rows, below + 1), mass * share)
    length = np.linalg.solve(np.eye(states) - moves, np.ones(states))
    return float(min(length[0], _LONGEST) if length[0] > 0 else _LONGEST)


def poisson_steps(expected: float, ratio: float, *, true: float = 1.0) -> tuple[FloatArray, FloatArray]:
    """Give the steps of a risk-adjusted sum of rare failures, and their chances.

    Parameters
    ----------
    expected : float
        Failures that the model expects in a step.
    ratio : float
        How many times as many the sum looks for.
    true : float
        How many times as many there truly are.

    Returns
    -------
    ndarray, ndarray, shape (steps,)
    """
    most = int(stats.poisson.ppf(1.0 - 1e-12, expected * true)) + 2
    count = np.arange(most + 1)
    return np.asarray(count * np.log(ratio) - (ratio - 1.0) * expected), stats.poisson.pmf(count, expected * true)


def limit_for(expected: float, ratio: float, wanted: float) -> float:
    """Find the limit at which a false alarm comes once in so many steps on average.

    Parameters
    ----------
    expected : float
        Failures that the model expects in a step, above 0.
    ratio : float
        How many times as many the sum looks for; below 1 it looks for fewer.
    wanted : float
        Mean run length while nothing has changed, in steps, above 1.

    Returns
    -------
    float
        The run length jumps where the sums that are possible do; the limit is just beyond the place where it passes
        what is wanted, so that it is no less.
    """
    steps, chance = poisson_steps(expected, ratio)
    low, high = 1e-3, 1.0
    while mean_run_length(steps, chance, high) < wanted:
        low, high = high, 1.6 * high
    if mean_run_length(steps, chance, low) >= wanted:
        return low

    def short(limit: float) -> float:
        return float(np.log(mean_run_length(steps, chance, limit) / wanted))

    passed = float(brentq(short, low, high, xtol=_NEAR))
    return passed if mean_run_length(steps, chance, passed) >= wanted else passed + 2 * _NEAR
