"""Failures seen over failures predicted, with an interval that holds at every look and contains the law's doubt.

Before a step the fitted law predicts E failures, E known to a mean m and a variance v over the draws of its
parameters. That doubt is taken as gamma, so that the count is negative binomial, its mean R m, R the ratio asked for.
What a law predicts from all that is known misses by amounts that do not go together from step to step: what an
earlier step brought is in the next fit. So the steps' chances multiply, however alike the fits are [1]_.

The product at R, its R mixed over a gamma distribution round 1, over the product at the ratio tried is a martingale
if that ratio is true; ratios at which it stays below 1 / (1 - level) make an interval that holds at every look [2]_.
Where v is 0 the counts are Poisson and the mixture has a closed form, with which the tests compare.

References
----------
.. [1] A. P. Dawid, Statistical theory: the prequential approach, J. R. Statist. Soc. A 147 (1984) 278-292.
.. [2] S. R. Howard, A. Ramdas, J. McAuliffe, J. Sekhon, Time-uniform Chernoff bounds via nonnegative supermartingales,
   Probability Surveys 17 (2020) 257-317 (the gamma-Poisson mixture).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaln, logsumexp

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.monitoring.remarks import MonitoringRemark
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray

_MIXTURE = 2.0
_LOWEST, _HIGHEST = -18.0, 5.0
"""Logarithms of the ratios mixed over; beyond them the mixture has next to nothing."""
_COARSEST = 0.05
SUREST = 1e12
"""Size of a negative binomial from which it is Poisson."""
_FARTHEST = 200.0
"""Logarithm of how far an end is looked for."""


def ratio_sequence(seen: FloatArray, expected: FloatArray, doubt: FloatArray, *, level: float = 0.95) -> Estimate:
    """Give seen over expected.

    Parameters
    ----------
    seen, expected : ndarray, shape (steps,)
        Failures seen in each step, and predicted before it.
    doubt : ndarray, shape (steps,)
        Variance of what was predicted, over the draws of the law; 0 of a law that is exact.
    level : float
        Coverage over all looks together.

    Returns
    -------
    Estimate
        Without a value while nothing was expected.
    """
    some = expected > 0
    seen, expected, doubt = seen[some], expected[some], doubt[some]
    if not expected.size:
        return no_estimate(remark(MonitoringRemark.NOTHING_EXPECTED))
    bound = -float(np.log1p(-level))
    value = float(seen.sum() / expected.sum())
    mixed = log_mixture(seen, expected, doubt)

    def excess(log_ratio: float) -> float:
        return mixed - float(_log_chance(np.array([log_ratio]), seen, expected, doubt)[0]) - bound

    best = _likeliest(seen, expected, doubt)
    high = float(np.exp(_root(excess, best, 1.0)))
    low = float(np.exp(_root(excess, best, -1.0))) if seen.any() else 0.0
    return Estimate(
        value=value,
        # the likeliest ratio, round which the interval lies, is not quite that of the sums
        low=min(low, value),
        high=max(high, value),
        level=level,
        method=remark(MonitoringRemark.RATIO_AT_EVERY_LOOK, seen=float(seen.sum()), expected=float(expected.sum())),
    )


def log_mixture(seen: FloatArray, expected: FloatArray, doubt: FloatArray) -> float:
    """Give the logarithm of the product of the steps' chances, its ratio mixed over a gamma distribution round 1.

    Parameters
    ----------
    seen, expected, doubt : ndarray, shape (steps,)
        As `ratio_sequence` takes them; factors that do not hang on the ratio are left out.
    """
    # so fine that the narrowest peak these counts can have is wide beside a step: sums are as good as integrals then
    step = min(_COARSEST, 0.5 / float(np.sqrt(seen.sum() + 1.0)))
    place = np.linspace(_LOWEST, _HIGHEST, int((_HIGHEST - _LOWEST) / step) + 2)
    density = _MIXTURE * (np.log(_MIXTURE) + place - np.exp(place)) - gammaln(_MIXTURE)
    width = np.log(place[1] - place[0])
    return float(logsumexp(_log_chance(place, seen, expected, doubt) + density) + width)


def _log_chance(log_ratio: FloatArray, seen: FloatArray, expected: FloatArray, doubt: FloatArray) -> FloatArray:
    """Give the logarithm of the product of the steps' chances at ratios, up to factors that do not hang on them."""
    total = seen.sum() * log_ratio
    ratio = np.exp(log_ratio)
    for count, mean, variance in zip(seen, expected, doubt, strict=True):
        size = min(mean**2 / variance, SUREST) if variance > mean**2 / SUREST else SUREST
        total = total - (count + size) * np.log1p(ratio * mean / size)
    return np.asarray(total)


def _likeliest(seen: FloatArray, expected: FloatArray, doubt: FloatArray) -> float:
    """Give the logarithm of the ratio at which what was seen is likeliest; where nothing was seen, a very small one."""
    if not seen.any():
        return _LOWEST

    def slope(log_ratio: float) -> float:
        mean = np.exp(log_ratio) * expected
        share = mean * doubt / expected**2
        return float(np.sum((seen - mean) / (1.0 + share)))

    ratios = np.log(seen[seen > 0] / expected[seen > 0])
    low = min(float(ratios.min()), float(np.log(seen.sum() / expected.sum()))) - 1.0
    while slope(low) < 0:
        low -= 2.0
    return float(brentq(slope, low, float(ratios.max()) + 1e-6))


def _root(excess: Callable[[float], float], best: float, way: float) -> float:
    """Find where the excess passes 0, going one way from the likeliest; infinite where it hardly ever does."""
    reach = 0.5
    while excess(best + way * reach) < 0:
        reach *= 2.0
        if reach > _FARTHEST:
            return way * np.inf
    ends = sorted((best, best + way * reach))
    return float(brentq(excess, *ends))
