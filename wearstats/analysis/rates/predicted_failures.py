"""How many of some hubs will fail, where one rate for all of them is all that is known: never more than there are.

The rate is known to a gamma distribution, half a failure put to those seen (Jeffreys). Given it every hub fails within
the time ahead with the same chance, so that the number is binomial; over the rates it is a mixture, whose moments and
chances are integrals over the gamma distribution.

References
----------
.. [1] N. L. Johnson, A. W. Kemp, S. Kotz, Univariate Discrete Distributions, 3rd ed., Wiley 2005, section 6.2
   (mixtures of binomial distributions).
"""

from __future__ import annotations

import numpy as np
import scipy
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.remark import Remark, remark

_NODES = 400
_EXACT_AT_MOST = 2000
"""More hubs than these are predicted by the Poisson mixture, which no hub's single failure distorts then."""


def predicted_failures(
    events: int, time: float, *, hubs: int, ahead: float, told: Remark | str, level: float = 0.90
) -> Estimate:
    """Predict how many of some hubs fail.

    Parameters
    ----------
    events : int
        Failures seen so far.
    time : float
        In how many hub-months they were seen.
    hubs : int
        How many may fail.
    ahead : float
        Months ahead of each.
    told : Remark or str
        What is counted.
    level : float
        Coverage of the prediction interval.

    Returns
    -------
    Estimate
        Without a value where nothing was seen to run.
    """
    if time <= 0:
        return no_estimate(remark(RateRemark.NOTHING_TO_FORETELL, told=told))
    shape, tail = events + 0.5, (1.0 - level) / 2
    # exact: the mean over the gamma distribution of the chance to hold
    value = hubs * -np.expm1(-shape * np.log1p(ahead / time))
    if hubs > _EXACT_AT_MOST:
        odds = time / (time + hubs * ahead)
        low, high = (min(float(scipy.stats.nbinom.ppf(end, shape, odds)), hubs) for end in (tail, 1.0 - tail))
    else:
        rates = special.gammaincinv(shape, (np.arange(_NODES) + 0.5) / _NODES) / time
        chance = -np.expm1(-rates * ahead)
        below = special.bdtr(np.arange(hubs + 1)[:, None], hubs, chance).mean(axis=1)
        low, high = (float(np.searchsorted(below, end)) for end in (tail, 1.0 - tail))
    return Estimate(
        value=float(value),
        low=min(low, hubs),
        high=min(high, hubs),
        level=level,
        method=remark(RateRemark.ONE_RATE_OF_HUBS, told=told, events=events, time=time, hubs=hubs),
        status="ok" if events else "bounded",
    )
