"""Which shafts go to which of some sizes, and what it costs to serve them with a tighter one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.domain.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Division:
    """The shafts divided among some sizes.

    Parameters
    ----------
    undersizes_um : ndarray, shape (sizes,)
        Ascending.
    served : ndarray, shape (shafts,)
        The undersize that each shaft goes to, NaN where to none.
    shares : ndarray, shape (draws, sizes)
        Share of the shafts that each size serves, shafts drawn anew.
    filing_cost : ndarray, shape (sizes, sizes)
        What it costs more, on average, to serve the shafts of the row's size with the column's; infinite for looser
        ones, and where the shop would not send it to most of them.
    """

    undersizes_um: FloatArray
    served: FloatArray
    shares: FloatArray
    filing_cost: FloatArray


def divide_shafts(costs: PairCosts, whole: FloatArray, chosen: tuple[int, ...], weight: FloatArray) -> Division:
    """Let every shaft go to the size that costs least for it.

    Parameters
    ----------
    costs : PairCosts
    whole : ndarray, shape (shafts, sizes)
        `PairCosts.whole`.
    chosen : tuple of int
        Columns, ascending.
    weight : ndarray, shape (draws, shafts)
        How often each shaft counts, shafts drawn anew.
    """
    columns = np.array(chosen)
    undersizes, may = costs.undersizes_um[columns], costs.acceptable[:, columns]
    cheapest = np.where(may, whole[:, columns], np.inf).argmin(axis=1)
    served = np.where(may.any(axis=1), undersizes[cheapest], np.nan)
    goes = served[:, None] == undersizes
    return Division(
        undersizes_um=undersizes,
        served=served,
        shares=np.asarray(weight @ goes / weight.sum(axis=1, keepdims=True)),
        filing_cost=_filing_costs(whole[:, columns], may, goes),
    )


def _filing_costs(cost: FloatArray, may: BoolArray, goes: BoolArray) -> FloatArray:
    """Mean extra cost of serving the row's shafts with the column's tighter size, over those it may be sent to."""
    sizes = cost.shape[1]
    extra = np.full((sizes, sizes), np.inf)
    for row in range(sizes):
        for column in range(row + 1, sizes):
            sent = goes[:, row] & may[:, column]
            if 2 * sent.sum() > goes[:, row].sum():
                extra[row, column] = max(float((cost[sent, column] - cost[sent, row]).mean()), 0.0)
        extra[row, row] = 0.0
    return extra
