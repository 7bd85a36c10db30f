"""Serving needs from a shelf: each need from its own size, and what is lacking from a tighter one, filed out.

A tighter hub can be filed until it goes on; a looser one cannot be made tight. So the cost of a hub for a need is
finite only where the hub is at least as tight, and what is lacking of one size may be taken from tighter ones, the
cheapest first, where that costs less than going without.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.errors import InputError, Problem


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Served:
    """What a shelf served; arrays of shape (draws, sizes) unless said.

    Parameters
    ----------
    lacking : ndarray
        Needs of each size that nothing served.
    left : ndarray
        Hubs of each size left over.
    filed : ndarray, shape (draws,)
        Hubs sent for a looser need.
    filing_cost : ndarray, shape (draws,)
        What filing them out cost.
    """

    lacking: FloatArray
    left: FloatArray
    filed: FloatArray
    filing_cost: FloatArray


def one_way(cost: FloatArray, undersizes_um: FloatArray) -> FloatArray:
    """Costs of hubs for needs, those of looser hubs made infinite.

    Parameters
    ----------
    cost : ndarray, shape (sizes, sizes)
        Extra cost, beside a hub of the size itself, of serving the need of the row with the hub of the column; finite
        and not below 0, or infinite where it is not done.
    undersizes_um : ndarray, shape (sizes,)
        Their undersizes.

    Returns
    -------
    ndarray, shape (sizes, sizes)

    Raises
    ------
    InputError
        When a cost is negative, missing, or the shape is another.
    """
    sizes = len(undersizes_um)
    found = np.asarray(cost, dtype=float)
    if found.shape != (sizes, sizes) or np.isnan(found).any() or (found < 0).any():
        raise InputError(
            Problem(
                place="cost of serving a need with a tighter hub",
                found=f"a table of {found.shape}" if found.shape != (sizes, sizes) else "a cost below 0, or none",
                allowed=f"{sizes} rows and columns, every cost 0 or more, infinite where it is not done",
            )
        )
    tighter = np.asarray(undersizes_um)[None, :] >= np.asarray(undersizes_um)[:, None]
    kept = np.where(tighter, found, np.inf)
    np.fill_diagonal(kept, 0.0)
    return np.asarray(kept)


def serve(stock: FloatArray, need: FloatArray | IntArray, cost: FloatArray, worth: FloatArray) -> Served:
    """Serve needs from a shelf.

    Parameters
    ----------
    stock, need : ndarray, shape (draws, sizes)
        Hubs on the shelf; hubs needed.
    cost : ndarray, shape (sizes, sizes)
        From `one_way`.
    worth : ndarray, shape (sizes,)
        What is lost by going without, less what a hub left over of each size is worth: hubs of the column are taken for
        another need only where filing costs no more than this.

    Returns
    -------
    Served
    """
    wanted = np.asarray(need, dtype=np.float64)
    own = np.minimum(stock, wanted)
    left, lacking = stock - own, wanted - own
    filed, filing_cost = np.zeros(len(left)), np.zeros(len(left))
    taken = np.isfinite(cost) & (cost <= worth[None, :]) & ~np.eye(len(cost), dtype=bool)
    rows, columns = np.nonzero(taken)
    for at in np.argsort(cost[rows, columns], kind="stable"):
        i, j = rows[at], columns[at]
        moved = np.minimum(lacking[:, i], left[:, j])
        if not moved.any():
            continue
        lacking[:, i] -= moved
        left[:, j] -= moved
        filed += moved
        filing_cost += moved * cost[i, j]
    return Served(lacking=lacking, left=left, filed=filed, filing_cost=filing_cost)
