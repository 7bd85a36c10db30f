"""What measuring again would be worth before a hub is chosen.

A new reading is drawn from what is known now, what would then be known is worked out by weighing the draws of the map
by its likelihood, and the rule is applied to each: the expected saving is what the best hub costs now less what the
best would cost then [1]_. Only the mean width is taken to be learnt, which is where nearly all of the doubt lies.

References
----------
.. [1] H. Raiffa, R. Schlaifer, Applied Statistical Decision Theory, Harvard 1961 (chapter 4: the expected value of
       sample information).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import special

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.options import Weighed, follows_of
from wearstats.analysis.advice.outcomes import FittingPrices
from wearstats.analysis.advice.remarks import Refusal
from wearstats.analysis.advice.rule import HARDLY_MORE
from wearstats.domain.arrays import FloatArray

_READINGS = 41
"""New readings tried, at equal steps of probability."""


def saved_by_measuring(
    weighed: Sequence[Weighed],
    width_um: FloatArray,
    *,
    error_sd_um: float,
    prices: FittingPrices,
    limit: float,
    limits: AdviceLimits,
) -> float:
    """Give what a new measurement is expected to save.

    Parameters
    ----------
    weighed : sequence of Weighed
        What can be sent.
    width_um : ndarray, shape (draws,)
        Mean width of each drawn map.
    error_sd_um : float
        Standard error of the new measurement's mean.
    prices, limit, limits
        As the rule takes them.

    Returns
    -------
    float
        In the prices' currency, not negative; what the measurement itself costs is not taken off.
    """
    known = [each for each in weighed if each.risk is not None]
    if not known:
        return 0.0
    spread = float(np.hypot(width_um.std(), error_sd_um))
    found = width_um.mean() + spread * special.ndtri((np.arange(_READINGS) + 0.5) / _READINGS)
    # how likely each drawn map is once such a reading is in hand; shape (draws, readings)
    log_weight = -0.5 * ((width_um[:, None] - found) / error_sd_um) ** 2
    weights = np.exp(log_weight - log_weight.max(axis=0))
    weights /= weights.sum(axis=0)
    as_now = np.full((width_um.size, 1), 1 / width_um.size)
    follows = follows_of(weighed, prices)
    costs = np.stack([each.costs(prices, follows=follows) for each in known])
    now = _best(known, costs, as_now, limit=limit, limits=limits)
    then = _best(known, costs, weights, limit=limit, limits=limits)
    return max(float(now[0] - then.mean()), 0.0)


def _best(
    known: Sequence[Weighed], costs: FloatArray, weights: FloatArray, *, limit: float, limits: AdviceLimits
) -> FloatArray:
    """Cost of the hub that the rule would choose, by reading."""
    cost = costs @ weights
    chance = np.stack([np.asarray(each.risk) @ weights for each in known])
    refused = [each.refused(limit, limits, weights) for each in known]
    unsound = np.stack(
        [
            np.any([np.broadcast_to(v, weights.shape[1]) for k, v in told.items() if k != Refusal.OVER_LIMIT], axis=0)
            for told in refused
        ]
    )
    allowed = ~unsound & (chance <= limit)
    # where none is allowed the cheapest of those with hardly more than the least chance
    least = np.where(unsound, np.inf, chance).min(axis=0)
    fallback = ~unsound & (chance <= HARDLY_MORE * least)
    take = np.where(allowed.any(axis=0), allowed, np.where(fallback.any(axis=0), fallback, True))
    return np.asarray(np.where(take, cost, np.inf).min(axis=0))
