"""What hangs on which sizes stand side by side in a set: whether they can be told apart, and what lies between them.

Hubs of one nominal size spread as they come off the machine. Two sizes closer than that spread are one size: their hubs
are the same, and a set may hold only one of them.

Hubs that lie on the shelf are paid. Where their size is kept they serve as if newly made. Where it is not, they are
used up, evenly over some years: each lies there while others are made, until it goes to a shaft that lies between the
two sizes kept about it, at what it costs that shaft more than its own size would. More than making one costs is never
lost on a hub, for then it is left lying. Those that no set could use within that time are lost anyway, and weigh on
none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray

_EVEN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neighbours:
    """What sets cost besides serving shafts, a shaft.

    Parameters
    ----------
    first, last : ndarray, shape (sizes,)
        Where a size is the loosest of its set, and where it is the tightest.
    between : ndarray, shape (sizes, sizes)
        Where the row is the next looser size kept to the column.
    apart : ndarray of bool, shape (sizes, sizes)
        Whether the two may stand side by side.
    """

    first: FloatArray
    last: FloatArray
    between: FloatArray
    apart: BoolArray

    @classmethod
    def none(cls, sizes: int) -> Neighbours:
        """Nothing lies there, and any sizes go together."""
        empty = np.zeros(sizes)
        return cls(first=empty, last=empty, between=np.zeros((sizes, sizes)), apart=~np.eye(sizes, dtype=bool))

    def of(self, chosen: Sequence[int]) -> float:
        """Sum what a set costs besides, whether or not its sizes can be told apart."""
        held = sorted(chosen)
        return float(self.first[held[0]] + self.last[held[-1]] + self.between[held[:-1], held[1:]].sum())

    def with_one_more(self, held: list[int]) -> FloatArray:
        """Sum what a set and one more size cost besides, by that size; infinite where they cannot be told apart."""
        sizes = self.first.size
        if not held:
            return np.asarray(self.first + self.last)
        own = np.array(held)
        pairs = np.where(self.apart, self.between, np.inf)
        place = np.arange(sizes)
        at = np.searchsorted(own, place)
        looser, tighter = own[np.maximum(at - 1, 0)], own[np.minimum(at, own.size - 1)]
        steps = self.between[own[:-1], own[1:]]
        inner = np.concatenate([[0.0], steps, [0.0]])[at]
        ends = np.where(at > 0, self.first[own[0]], self.first) + np.where(at < own.size, self.last[own[-1]], self.last)
        total = steps.sum() - inner + ends
        total = (
            total + np.where(at > 0, pairs[looser, place], 0.0) + np.where(at < own.size, pairs[place, tighter], 0.0)
        )
        return np.asarray(np.where(np.isin(place, own), np.inf, total))


def neighbours_of(
    cost: FloatArray,
    undersizes_um: FloatArray,
    *,
    apart_um: float,
    lying: FloatArray,
    made: float,
    lies: float,
    needs: float,
) -> Neighbours:
    """Work out what sets cost besides.

    Parameters
    ----------
    cost : ndarray, shape (shafts, sizes)
        Of serving each shaft with each size; finite.
    undersizes_um : ndarray, shape (sizes,)
        Ascending.
    apart_um : float
        Spread of hubs of one size: two sizes at least so far apart can be told apart.
    lying : ndarray, shape (sizes,)
        Hubs on the shelf.
    made : float
        What making one costs.
    lies : float
        What a hub costs that lies there until it is used up.
    needs : float
        Hubs needed within the time in which the shelf is used up; what is lost is spread over them.
    """
    sizes = cost.shape[1]
    found = Neighbours.none(sizes)
    apart = np.abs(undersizes_um[None, :] - undersizes_um[:, None]) >= max(apart_um, _EVEN) - _EVEN
    if needs <= 0 or made <= 0:
        return Neighbours(first=found.first, last=found.last, between=found.between, apart=apart)
    first, last, between = np.zeros(sizes), np.zeros(sizes), np.zeros((sizes, sizes))
    each, best, least = needs / len(cost), cost.argmin(axis=1), cost.min(axis=1)
    for place in np.flatnonzero(lying > 0).tolist():
        mine = cost[:, place]
        usable = min(float(lying[place]), each * int((mine - least < made).sum()))
        lost = partial(_lost, hubs=usable / each, lies=lies, made=made)
        for tighter in range(place + 1, sizes):
            inside = best <= tighter
            first[tighter] += lost(mine[inside] - cost[inside, tighter])
            for looser in range(place):
                there = inside & (best >= looser)
                extra = mine[there] - np.minimum(cost[there, looser], cost[there, tighter])
                between[looser, tighter] += lost(extra)
        for looser in range(place):
            inside = best >= looser
            last[looser] += lost(mine[inside] - cost[inside, looser])
    # so many hubs for every shaft on record, spread over all of them
    return Neighbours(first=first / len(cost), last=last / len(cost), between=between / len(cost), apart=apart)


def _lost(extra: FloatArray, *, hubs: float, lies: float, made: float) -> float:
    """Sum what is lost on hubs of a size that is not kept; each shaft takes at most one and is never better served."""
    dear = np.sort(np.minimum(np.maximum(extra, 0.0) + lies, made))
    if hubs >= dear.size:
        return float(dear.sum()) + made * (hubs - dear.size)
    whole = int(hubs)
    return float(dear[:whole].sum()) + float(dear[whole]) * (hubs - whole)
