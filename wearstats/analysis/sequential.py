"""Intervals that hold at every look: whoever looks each quarter and stops at will is still right 19 times in 20.

*One proportion*: the binomial likelihood mixed over a beta distribution round the value tried, over the likelihood at
that value, is a nonnegative martingale; values at which it has stayed below 1 / (1 - level) make the sequence [1]_.

*Difference of two*: looks come in blocks (a quarter and a stratum), of sizes that are known before their outcomes. For
a difference d tried, the likelihood of the block at an alternative fixed beforehand is divided by that at the nearest
pair of proportions with this difference, nearest in Kullback-Leibler divergence. Whatever pair with difference d is
true, and even where each fitting has its own chance as long as the groups' means differ by d, that ratio is at most 1
on average, for the pairs with difference d are a convex set [2]_. The product over blocks is an e-process, and by
Ville's inequality it ever passes 1 / (1 - level) with probability at most 1 - level. The base rate is free and may
differ from block to block. The alternative for a block is what the blocks before it showed.

References
----------
.. [1] S. R. Howard, A. Ramdas, J. McAuliffe, J. Sekhon, Time-uniform, nonparametric, nonasymptotic confidence
   sequences, Ann. Stat. 49 (2021) 1055-1080, propositions 5 and 7.
.. [2] R. J. Turner, P. D. Grunwald, Exact anytime-valid confidence intervals for contingency tables and beyond,
   Statistics and Probability Letters 198 (2023) 109835, theorem 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import betaln

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PRIOR_RISK, PRIOR_FITTINGS = 0.1, 2.0
"""What the first block is weighed against: two fittings' worth of a risk of one in ten; it only steers the power."""
_GRID = np.linspace(-0.995, 0.995, 399)
_HALVINGS = 50
_EDGE = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DifferenceSequence:
    """The difference of two proportions, told again after every block.

    Parameters
    ----------
    low, high : ndarray, shape (blocks,)
        What has not been ruled out so far, narrowing from block to block.
    log_evidence : ndarray, shape (blocks,)
        Logarithm of the e-process against no difference; above ``log(1 / (1 - level))`` it is ruled out.
    contradicts : bool
        Every difference has been ruled out at some block, so that it was not one and the same all along; the ends are
        then those of the last block at which some were left.
    level : float
        Coverage over all looks together.
    """

    low: FloatArray
    high: FloatArray
    log_evidence: FloatArray
    contradicts: bool
    level: float


def proportion_sequence(
    failures: int, total: int, *, best_at: float = 100.0, level: float = 0.95
) -> tuple[float, float]:
    """Give the ends of an interval for a proportion that holds at every look [1]_.

    Parameters
    ----------
    failures, total : int
        Seen so far.
    best_at : float
        Number of trials at which it is meant to be narrowest.
    level : float
        Coverage over all looks together.

    Returns
    -------
    tuple of float
    """
    if total == 0:
        return 0.0, 1.0
    limit = -math.log1p(-level)
    # the normal mixture narrowest at `best_at`, [1] equation 11 with the usual approximation
    doubled = 2.0 * math.log(20.0)
    rho = best_at / (doubled + math.log1p(doubled))

    def excess(value: float) -> float:
        """Logarithm of the martingale at a value tried, less the limit."""
        beyond = max(rho - 1.0, 1e-3)
        a, b = beyond * value, beyond * (1.0 - value)
        likelihood = failures * math.log(value) + (total - failures) * math.log1p(-value)
        return float(betaln(a + failures, b + total - failures) - betaln(a, b)) - likelihood - limit

    share = failures / total
    inside = min(max(share, _EDGE), 1.0 - _EDGE)
    low = 0.0 if failures == 0 or excess(_EDGE) <= 0 else float(brentq(excess, _EDGE, inside, xtol=1e-12))
    high = 1.0 if failures == total or excess(1 - _EDGE) <= 0 else float(brentq(excess, inside, 1 - _EDGE, xtol=1e-12))
    return low, high


def difference_sequence(
    first_failed: IntArray, first: IntArray, second_failed: IntArray, second: IntArray, *, level: float = 0.95
) -> DifferenceSequence:
    """Follow the difference of two proportions, first minus second, block by block [2]_.

    Parameters
    ----------
    first_failed, first, second_failed, second : ndarray of int, shape (blocks,)
        Failures and fittings of the two groups in each block, in the order in which they came; a block that lacks a
        group tells nothing of the difference, but steers the alternative of the next.
    level : float
        Coverage over all looks together.

    Returns
    -------
    DifferenceSequence
    """
    one, other = _alternatives(first_failed, first, second_failed, second)
    limit = -math.log1p(-level)
    total, none = np.zeros(_GRID.size), 0.0
    left = np.ones(_GRID.size, dtype=bool)
    low, high = np.full(first.size, -1.0), np.full(first.size, 1.0)
    log_evidence = np.zeros(first.size)
    ends, contradicts = (-1.0, 1.0), False
    tried = np.append(_GRID, 0.0)
    for block in range(first.size):
        counts = tuple(int(a[block]) for a in (first_failed, first, second_failed, second))
        if min(counts[1], counts[3]) > 0:
            step = _log_e_value(counts, one[block], other[block], tried)
            total, none = total + step[:-1], none + float(step[-1])
            left &= total < limit
            contradicts = contradicts or not left.any()
            if not contradicts:
                found = _crossings(total, left, limit)
                ends = (max(ends[0], found[0]), min(ends[1], found[1]))
        low[block], high[block] = ends
        log_evidence[block] = none
    return DifferenceSequence(low=low, high=high, log_evidence=log_evidence, contradicts=contradicts, level=level)


def _alternatives(
    first_failed: IntArray, first: IntArray, second_failed: IntArray, second: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Proportions of both groups as the blocks before each showed them, drawn towards their common one."""
    before = [np.append(0, np.cumsum(counts))[:-1] for counts in (first_failed, first, second_failed, second)]
    failed, fittings = before[0] + before[2], before[1] + before[3]
    common = (failed + PRIOR_RISK * PRIOR_FITTINGS) / (fittings + PRIOR_FITTINGS)
    one = (before[0] + PRIOR_FITTINGS * common) / (before[1] + PRIOR_FITTINGS)
    other = (before[2] + PRIOR_FITTINGS * common) / (before[3] + PRIOR_FITTINGS)
    return one, other


def _log_e_value(counts: tuple[int, ...], one: float, other: float, difference: FloatArray) -> FloatArray:
    """Log likelihood ratio of a block, the alternative against the nearest pair with each difference tried."""
    x, n, y, m = counts
    p, q = _nearest(one, other, n, m, difference)
    alternative = _log_likelihood(x, n, np.array(one)) + _log_likelihood(y, m, np.array(other))
    return np.asarray(alternative - _log_likelihood(x, n, p) - _log_likelihood(y, m, q), dtype=float)


def _nearest(one: float, other: float, n: int, m: int, difference: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Find the pair with each difference whose divergence from the alternative is least, by halving."""
    low, high = np.maximum(0.0, difference) + _EDGE, np.minimum(1.0, 1.0 + difference) - _EDGE
    for _ in range(_HALVINGS):
        p = (low + high) / 2
        q = p - difference
        rises = n * (p - one) / (p * (1 - p)) + m * (q - other) / (q * (1 - q)) > 0
        low, high = np.where(rises, low, p), np.where(rises, p, high)
    p = (low + high) / 2
    return p, p - difference


def _log_likelihood(failed: int, fittings: int, risk: FloatArray) -> FloatArray:
    return np.asarray(failed * np.log(risk) + (fittings - failed) * np.log1p(-risk), dtype=float)


def _crossings(total: FloatArray, left: NDArray[np.bool_], limit: float) -> tuple[float, float]:
    """Where the e-process crosses the limit, by straight lines between the differences tried."""
    kept = np.flatnonzero(left)
    ends = []
    for inner, outer in ((kept[0], kept[0] - 1), (kept[-1], kept[-1] + 1)):
        if not 0 <= outer < _GRID.size:
            ends.append(math.copysign(1.0, _GRID[inner]))
            continue
        rise = total[outer] - total[inner]
        # a difference ruled out at an earlier block may by now be below the limit again: it stays out
        share = (limit - total[inner]) / rise if total[outer] > limit and rise > 0 else 1.0
        ends.append(float(_GRID[inner] + share * (_GRID[outer] - _GRID[inner])))
    return ends[0], ends[1]
