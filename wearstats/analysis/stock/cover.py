"""Until when stock lasts: the day by which a need of a size goes unserved with a given chance."""

from __future__ import annotations

import numpy as np

from wearstats.analysis.stock.substitution import serve
from wearstats.domain.arrays import FloatArray, IntArray


def lasting_quarters(
    stock: FloatArray,
    demand: IntArray,
    *,
    filing: FloatArray | None = None,
    worth: float = 0.0,
    chance: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Find when stock runs out, in quarters from now, no earlier than which it does but for a small chance.

    Parameters
    ----------
    stock : ndarray, shape (sizes,)
        Hubs of each size.
    demand : ndarray of int, shape (draws, quarters, sizes)
        Drawn demand of coming quarters.
    filing : ndarray, shape (sizes, sizes), optional
        From `substitution.one_way`: what a size lacks is then taken from tighter ones, which run out the sooner.
    worth : float
        A hub is filed out where that costs no more than this.
    chance : float
        Chance of running out earlier.
    rng : Generator
        For when within its quarter the first need that nothing serves comes: needs come evenly within a quarter, so
        that the ``m``-th of ``n`` comes at a Beta(m, n - m + 1) part of it.

    Returns
    -------
    ndarray, shape (sizes,)
        Infinite where the stock outlasts the quarters drawn. Within a quarter the needs of a size itself are served
        first, whenever they come: with filing the time may be wrong by a few weeks.
    """
    draws, quarters, sizes = demand.shape
    alone = np.full((sizes, sizes), np.inf) if filing is None else filing
    left = np.broadcast_to(stock, (draws, sizes))
    when = np.full((draws, sizes), np.inf)
    for quarter in range(quarters):
        served = serve(left, demand[:, quarter], alone, np.full(sizes, worth))
        lacking, left = served.lacking, served.left
        now = (lacking > 0) & np.isinf(when)
        n = demand[:, quarter]
        within = rng.beta(np.where(now, n - lacking + 1.0, 1.0), np.where(now, lacking, 1.0))
        when = np.where(now, quarter + within, when)
    return np.asarray(np.sort(when, axis=0)[int(chance * draws)], dtype=float)
