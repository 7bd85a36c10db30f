"""One limit for several patterns: how much of it each gets, so that all together cost least."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wearstats.analysis.stock.best_quantities import Frontier, MakeLimit
from wearstats.domain.arrays import FloatArray, IntArray


def share_limit(frontiers: Sequence[Frontier], limit: MakeLimit) -> list[MakeLimit]:
    """Share a limit among patterns.

    Parameters
    ----------
    frontiers : sequence of Frontier
        Of each pattern within all of the limit, from `frontier_within`.
    limit : MakeLimit
        What may be made of all of them together.

    Returns
    -------
    list of MakeLimit
        What may be made of each; exact, since everything that each could spend is put together with everything that the
        others could.
    """
    hubs, money, cost = np.zeros(1, dtype=np.int64), np.zeros(1), np.zeros(1)
    # by pattern: which of what was found before it, and which of its own points, a total is made of
    came: list[tuple[IntArray, IntArray]] = []
    for each in frontiers:
        all_hubs = (hubs[:, None] + each.hubs).ravel()
        all_money = (money[:, None] + each.money).ravel()
        all_cost = (cost[:, None] + each.cost).ravel()
        keep = _not_dominated(all_hubs, all_money, all_cost, limit)
        came.append(np.divmod(keep, each.cost.size))
        hubs, money, cost = all_hubs[keep], all_money[keep], all_cost[keep]
    at = int(cost.argmin())
    shared: list[MakeLimit] = []
    for each, (before, own) in zip(reversed(frontiers), reversed(came), strict=True):
        point = int(own[at])
        shared.append(
            MakeLimit(
                hubs=None if limit.hubs is None else int(each.hubs[point]),
                money=None if limit.money is None else float(each.money[point]),
            )
        )
        at = int(before[at])
    return shared[::-1]


def _not_dominated(hubs: IntArray, money: FloatArray, cost: FloatArray, limit: MakeLimit) -> IntArray:
    """Give what is within the limit and cheaper than all that spends no more money on as many hubs."""
    within = np.flatnonzero(limit.allows(hubs, money))
    order = within[np.lexsort((cost[within], money[within], hubs[within]))]
    kept = []
    for number in np.unique(hubs[order]):
        alike = order[hubs[order] == number]
        least = np.minimum.accumulate(cost[alike])
        kept.append(alike[np.concatenate([[True], cost[alike][1:] < least[:-1]])])
    return np.concatenate(kept)
