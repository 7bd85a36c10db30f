"""Limits of a funnel: between which values the ratio of seen to expected lies where a rate has not changed.

Of two Poisson counts with the same rate the first is binomial, given their sum [1]_. A funnel shows such ratios against
what is expected, so that small groups are not ranked with large ones [2]_. Its lines pass between the last whole number
that is no surprise and the first that is: a count never lies on them.

References
----------
.. [1] J. Przyborowski, H. Wilenski, Homogeneity of results in testing samples from Poisson series, Biometrika 31 (1940)
   313-323.
.. [2] D. J. Spiegelhalter, Funnel plots for comparing institutional performance, Stat. Med. 24 (2005) 1185-1202.
"""

from __future__ import annotations

import numpy as np
import scipy

from wearstats.domain.arrays import FloatArray


def funnel_limits(sums: FloatArray, share: float, *, level: float) -> tuple[FloatArray, FloatArray]:
    """Give the lower and upper limit of seen over expected.

    Parameters
    ----------
    sums : array, shape (n,)
        Counts of both times together, whole numbers above 0.
    share : float
        Share of the time looked at in both, between 0 and 1.
    level : float
        Chance that an unchanged rate lies within.

    Returns
    -------
    tuple of array, shape (n,)
        Each tail beyond holds at most half of what the level leaves; below 0 where even none is no surprise.
    """
    tail = (1.0 - level) / 2
    expected = sums * share
    low = (scipy.stats.binom.ppf(tail, sums, share) - 0.5) / expected
    high = (scipy.stats.binom.isf(tail, sums, share) + 0.5) / expected
    return np.asarray(low), np.asarray(high)
