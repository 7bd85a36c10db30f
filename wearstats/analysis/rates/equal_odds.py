"""Whether strata share one odds ratio: an exact test, which holds for strata of a few fittings each.

Given how many failed in each stratum and how many of the first group failed in all, every table has a known probability
if there is one odds ratio, whatever it is. The p-value is the probability of all tables no likelier than the one seen.

References
----------
.. [1] M. Zelen, The analysis of several 2 x 2 contingency tables, Biometrika 58 (1971) 129-137.
.. [2] C. R. Mehta, N. R. Patel, R. Gray, Computing an exact confidence interval for the common odds ratio in several
   2 x 2 contingency tables, JASA 80 (1985) 969-973 (stratum by stratum, as here).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import scipy

from wearstats.analysis.rates.two_by_two import FourfoldTable
from wearstats.domain.arrays import FloatArray, IntArray

MOST_WORK = 30_000
"""Tables of a stratum, over all strata, times failures of the first group: past it Breslow and Day's test holds."""

_STEP = 5e-4  # likelihoods closer than this count as one; their probabilities are summed as they are


def exact_equal_odds(tables: Sequence[FourfoldTable]) -> float | None:
    """Give the exact p-value, None for strata so large that it would take long.

    Parameters
    ----------
    tables : sequence of FourfoldTable
        At least one, each with both groups and both outcomes.
    """
    strata = [_distribution(table) for table in tables]
    seen = sum(table.first_failed for table in tables)
    if sum(chance.size for _, chance in strata) * seen > MOST_WORK:
        return None
    # minus the log probability, in steps; what the strata to come add at least, and how many failures at most, says
    # which tables are not followed further: those that will be no likelier than the one seen, or have another sum
    steps = [_steps(chance) for _, chance in strata]
    limit = sum(
        int(of[table.first_failed - first]) for of, table, (first, _) in zip(steps, tables, strata, strict=True)
    )
    limit -= len(tables) + sum(int(of.min()) for of in steps)
    most = sum(first + chance.size - 1 for first, chance in strata)
    likelier: dict[int, tuple[IntArray, FloatArray]] = {0: (np.zeros(1, dtype=np.int64), np.ones(1))}
    every = np.ones(1)
    for (first, chance), own in zip(strata, steps, strict=True):
        every = np.convolve(every, chance)
        most -= first + chance.size - 1
        found: dict[int, list[tuple[IntArray, FloatArray]]] = defaultdict(list)
        for failed, (step, weight) in enumerate(zip(own - own.min(), chance, strict=True), start=first):
            for total, (so_far, mass) in likelier.items():
                kept = int(np.searchsorted(so_far, limit - step))
                if kept and total + failed <= seen <= total + failed + most:
                    found[total + failed].append((so_far[:kept] + step, mass[:kept] * weight))
        likelier = {total: _merge(parts) for total, parts in found.items()}
    share = float(likelier[seen][1].sum()) if seen in likelier else 0.0
    return float(np.clip(1.0 - share / every[seen - sum(first for first, _ in strata)], 0.0, 1.0))


def _distribution(table: FourfoldTable) -> tuple[int, FloatArray]:
    """Give the fewest failures that the first group can have, and the chance of that and each higher number."""
    failed, total = table.first_failed + table.second_failed, table.first_total + table.second_total
    first = max(0, failed - table.second_total)
    numbers = np.arange(first, min(failed, table.first_total) + 1)
    return first, np.asarray(scipy.stats.hypergeom.pmf(numbers, total, failed, table.first_total), dtype=float)


def _steps(chance: FloatArray) -> IntArray:
    return np.asarray(np.rint(-np.log(np.maximum(chance, 1e-300)) / _STEP), dtype=np.int64)


def _merge(parts: list[tuple[IntArray, FloatArray]]) -> tuple[IntArray, FloatArray]:
    if len(parts) == 1:
        return parts[0]
    steps, place = np.unique(np.concatenate([steps for steps, _ in parts]), return_inverse=True)
    mass = np.bincount(place, weights=np.concatenate([mass for _, mass in parts]))
    return np.asarray(steps, dtype=np.int64), np.asarray(mass, dtype=float)
