"""Until when stock lasts: the day by which a size has run out with a given chance."""

from __future__ import annotations

import numpy as np

from wearstats.analysis.demand_courses import FloatArray, IntArray


def lasting_quarters(stock: FloatArray, demand: IntArray, *, chance: float, rng: np.random.Generator) -> FloatArray:
    """Find when stock runs out, in quarters from now, no earlier than which it does but for a small chance.

    Parameters
    ----------
    stock : ndarray, shape (sizes,)
        Hubs of each size.
    demand : ndarray of int, shape (draws, quarters, sizes)
        Drawn demand of coming quarters.
    chance : float
        Chance of running out earlier.
    rng : Generator
        For when within its quarter the first hub too many is asked for: needs come evenly within a quarter, so that
        the ``m``-th of ``n`` comes at a Beta(m, n - m + 1) part of it.

    Returns
    -------
    ndarray, shape (sizes,)
        Infinite where the stock outlasts the quarters drawn.
    """
    draws, quarters, _ = demand.shape
    so_far = np.cumsum(demand, axis=1)
    out = so_far > stock
    first = np.where(out.any(axis=1), out.argmax(axis=1), quarters - 1)
    n = np.take_along_axis(demand, first[:, None, :], axis=1)[:, 0, :]
    before = np.take_along_axis(so_far, first[:, None, :], axis=1)[:, 0, :] - n
    runs_out = out.any(axis=1)
    m = np.where(runs_out, stock - before + 1.0, 1.0)
    within = rng.beta(m, np.where(runs_out, n - m + 1.0, 1.0))
    when = np.sort(np.where(runs_out, first + within, np.inf), axis=0)
    return np.asarray(when[int(chance * draws)], dtype=float)
