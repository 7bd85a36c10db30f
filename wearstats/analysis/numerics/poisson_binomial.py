"""How many of many things happen when each has its own chance.

The number of hubs that fail is a sum of unequal zeros and ones. Its law is exact: the characteristic function, a
product over the hubs, at as many points as there are counts with any chance to speak of, turned back by a discrete
Fourier transform [1]_. Where the chances are themselves uncertain, the law is the average over their draws.

References
----------
.. [1] Y. Hong, On computing the distribution function for the Poisson binomial distribution, Comput. Stat. Data Anal.
   59 (2013) 41-51, section 2.3.
"""

from __future__ import annotations

import numpy as np

from wearstats.domain.arrays import FloatArray

EXACT_AT_MOST = 4_000
"""Hubs up to which the law is exact; the sum of more is normal to all that anybody prints."""
_AT_A_TIME = 2_000_000


def count_chances(chance: FloatArray) -> FloatArray:
    """Give the law of the number that happen.

    Parameters
    ----------
    chance : ndarray, shape (draws, things) or (things,)
        Chance of each thing, 0 to 1; one row a draw of what is uncertain.

    Returns
    -------
    ndarray, shape (counts,)
        Chance of 0, 1, 2, ..., averaged over the draws; what is left out has a chance below 1e-12.
    """
    rows = np.atleast_2d(np.asarray(chance, dtype=float))
    expected = rows.sum(axis=1)
    spread = np.sqrt((rows * (1.0 - rows)).sum(axis=1))
    most = int(np.ceil(np.max(expected + 9.0 * spread, initial=0.0) + 25.0))
    size = min(rows.shape[1], most) + 1
    turn = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    total = np.zeros(turn.size, dtype=complex)
    step = max(_AT_A_TIME // max(turn.size * rows.shape[1], 1), 1)
    for begin in range(0, rows.shape[0], step):
        some = rows[begin : begin + step]
        total += np.prod(1.0 + some[:, None, :] * (turn[:, None] - 1.0), axis=2).sum(axis=0)
    law = np.fft.irfft(total / rows.shape[0], n=size)
    return np.asarray(np.clip(law, 0.0, 1.0), dtype=float)


def count_interval(law: FloatArray, *, level: float) -> tuple[int, int]:
    """Give the least counts at which the law's sum reaches (1 - level) / 2 and (1 + level) / 2."""
    total = np.cumsum(law)
    tail = (1.0 - level) / 2
    low, high = np.searchsorted(total, [tail, 1.0 - tail - 1e-12])
    return int(low), int(min(high, law.size - 1))


def many_interval(
    mean: FloatArray, variance: FloatArray, *, level: float, rng: np.random.Generator
) -> tuple[float, float]:
    """Give the interval of a count so large that it is normal, draw by draw.

    Parameters
    ----------
    mean, variance : ndarray, shape (draws,)
        Of the count, in each draw of what is uncertain.
    level : float
        Coverage.
    rng : Generator
        For the counts.

    Returns
    -------
    tuple of float
    """
    counts = rng.normal(mean[:, None], np.sqrt(variance)[:, None], (mean.size, 200))
    low, high = np.quantile(counts, [(1.0 - level) / 2, (1.0 + level) / 2])
    return float(max(np.floor(low), 0.0)), float(np.ceil(high))
