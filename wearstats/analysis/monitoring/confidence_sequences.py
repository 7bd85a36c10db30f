"""Intervals that hold at every look: whoever looks each quarter and stops at will is still right 19 times in 20.

*One proportion*: the binomial likelihood mixed over a beta distribution round the value tried, over the likelihood at
that value, is a nonnegative martingale; values at which it has stayed below 1 / (1 - level) make the sequence [1]_.

*Difference of two*: looks come in blocks (a quarter and a stratum), of sizes that are known before their outcomes. For
a difference d tried, the likelihood of the block at an alternative fixed beforehand is divided by that at the nearest
pair of proportions with this difference, nearest in Kullback-Leibler divergence. Whatever pair with difference d is
true, and even where each fitting has its own chance as long as the groups' means differ by d, that ratio is at most 1
on average, for the pairs with difference d are a convex set [2]_. The product over blocks is an e-process, and by
Ville's inequality it ever passes 1 / (1 - level) with probability at most 1 - level. The base rate is free and may
differ from block to block. The processes of many alternatives are averaged, so that none has to be guessed.

References
----------
.. [1] S. R. Howard, A. Ramdas, J. McAuliffe, J. Sekhon, Time-uniform, nonparametric, nonasymptotic confidence
   sequences, Ann. Stat. 49 (2021) 1055-1080, propositions 5 and 7.
.. [2] R. J. Turner, P. D. Grunwald, Exact anytime-valid confidence intervals for contingency tables and beyond,
   Statistics and Probability Letters 198 (2023) 109835, theorem 1.
.. [3] O. Miettinen, M. Nurminen, Comparative analysis of two rates, Stat. Med. 4 (1985) 213-226, appendix 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import betaln

from wearstats.domain.arrays import FloatArray, IntArray

_RISKS = (0.015, 0.035, 0.06, 0.1, 0.15, 0.22, 0.32, 0.48, 0.75)
ALTERNATIVES = np.array([(one, other) for one in _RISKS for other in _RISKS])
"""Pairs of risks over which the e-process is averaged, shape (alternatives, 2); they only steer the power."""
_GRID = np.concatenate([np.linspace(-0.98, -0.42, 8), np.linspace(-0.4, 0.4, 81), np.linspace(0.42, 0.98, 8)])
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
    by_alternative : ndarray, shape (alternatives,)
        The same at the last block for each of `ALTERNATIVES`, before they are averaged.
    contradicts : bool
        Every difference has been ruled out at some block, so that it was not one and the same all along; the ends are
        then those of the last block at which some were left.
    level : float
        Coverage over all looks together.
    """

    low: FloatArray
    high: FloatArray
    log_evidence: FloatArray
    by_alternative: FloatArray
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
        group tells nothing.
    level : float
        Coverage over all looks together.
    """
    limit = -math.log1p(-level)
    # by alternative and difference tried; no difference is tried besides
    tried = np.append(_GRID, 0.0)
    total = np.zeros((ALTERNATIVES.shape[0], tried.size))
    left = np.ones(_GRID.size, dtype=bool)
    low, high = np.full(first.size, -1.0), np.full(first.size, 1.0)
    log_evidence = np.zeros(first.size)
    ends, contradicts = (-1.0, 1.0), False
    for block in range(first.size):
        counts = tuple(int(a[block]) for a in (first_failed, first, second_failed, second))
        if min(counts[1], counts[3]) > 0:
            total = total + _log_e_values(counts, tried)
            mixed = mix_evidence(total.T)
            log_evidence[block] = mixed[-1]
            left &= mixed[:-1] < limit
            contradicts = contradicts or not left.any()
            if not contradicts:
                found = _crossings(mixed[:-1], left, limit)
                ends = (max(ends[0], found[0]), min(ends[1], found[1]))
        elif block:
            log_evidence[block] = log_evidence[block - 1]
        low[block], high[block] = ends
    return DifferenceSequence(
        low=low,
        high=high,
        log_evidence=log_evidence,
        by_alternative=total[:, -1],
        contradicts=contradicts,
        level=level,
    )


def mix_evidence(log_e_values: FloatArray) -> FloatArray:
    """Average e-values over the alternatives; logarithms in and out, shape (..., alternatives) to (...)."""
    top = log_e_values.max(axis=-1, keepdims=True)
    return np.asarray(np.log(np.mean(np.exp(log_e_values - top), axis=-1)) + top[..., 0], dtype=float)


def evidence_of_no_difference(first_failed: IntArray, first: int, second_failed: IntArray, second: int) -> FloatArray:
    """Give the log e-values of blocks of one size against no difference, by alternative.

    Parameters
    ----------
    first_failed, second_failed : ndarray of int, shape (...)
        Failures in each block.
    first, second : int
        Fittings in each block, neither zero.

    Returns
    -------
    ndarray, shape (..., alternatives)
    """
    one, other = ALTERNATIVES.T
    # the nearest pair without a difference is the pooled risk: no cubic as `nearest_pair` has it
    both = (first * one + second * other) / (first + second)
    x, y = first_failed[..., None], second_failed[..., None]
    return np.asarray(
        _log_likelihood(x, first, one)
        + _log_likelihood(y, second, other)
        - _log_likelihood(x, first, both)
        - _log_likelihood(y, second, both),
        dtype=float,
    )


def _log_e_values(counts: tuple[int, ...], tried: FloatArray) -> FloatArray:
    """Log likelihood ratios of a block, shape (alternatives, differences tried)."""
    x, n, y, m = counts
    one, other = ALTERNATIVES[:, :1], ALTERNATIVES[:, 1:]
    p = nearest_pair(one, other, n, m, tried)
    alternative = _log_likelihood(x, n, one) + _log_likelihood(y, m, other)
    return np.asarray(
        alternative - _log_likelihood(x, n, p) - _log_likelihood(y, m, p - tried),
        dtype=float,
    )


def nearest_pair(one: FloatArray, other: FloatArray, n: int, m: int, difference: FloatArray) -> FloatArray:
    """Find the first proportion of the pair with each difference whose divergence from the alternative is least.

    The derivative is a cubic with one root in the middle; it is found in closed form [3]_ and polished by Newton.
    """
    total = n + m
    failed = n * one + m * other
    cubic = ((n + 2 * m) * difference - total - failed) / total
    linear = ((m * difference - total - 2 * m * other) * difference + failed) / total
    constant = m * other * difference * (1 - difference) / total
    turn = cubic**3 / 27 - cubic * linear / 6 + constant / 2
    size = np.copysign(np.sqrt(np.maximum(cubic**2 / 9 - linear / 3, 1e-30)), turn)
    angle = (np.pi + np.arccos(np.clip(turn / size**3, -1.0, 1.0))) / 3
    q = 2 * size * np.cos(angle) - cubic / 3
    low, high = np.maximum(0.0, difference) + _EDGE, np.minimum(1.0, 1.0 + difference) - _EDGE
    p = np.clip(q + difference, low, high)
    for _ in range(2):
        q = p - difference
        slope = n * (p - one) / (p * (1 - p)) + m * (q - other) / (q * (1 - q))
        bend = n * (one / p**2 + (1 - one) / (1 - p) ** 2) + m * (other / q**2 + (1 - other) / (1 - q) ** 2)
        p = np.clip(p - slope / bend, low, high)
    return np.asarray(p, dtype=float)


def _log_likelihood(failed: IntArray | int, fittings: int, risk: FloatArray) -> FloatArray:
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
