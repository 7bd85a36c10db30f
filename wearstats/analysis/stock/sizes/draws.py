"""How sure a set of sizes is: shafts drawn anew, and with each draw a law of working loose."""

from __future__ import annotations

import numpy as np

from wearstats.analysis.stock.sizes.best_sets import SizeSet, best_sets, cost_of_set
from wearstats.analysis.stock.sizes.neighbours import Neighbours
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.domain.arrays import FloatArray, IntArray


def shafts_anew(shaft: IntArray, *, replicates: int, draws_of: int = 1, rng: np.random.Generator) -> FloatArray:
    """Draw shafts anew: how often each occasion counts, shape (replicates, occasions); arguments as of `Draws`."""
    numbered = np.unique(shaft, return_inverse=True)[1]
    shafts = int(numbered.max()) + 1
    counts = rng.multinomial(draws_of * shafts, np.full(shafts, 1 / shafts), size=replicates)
    return np.asarray(counts[:, numbered], dtype=np.float64)


class Draws:
    """Shafts drawn anew, each time with a law drawn from what is known of it.

    Parameters
    ----------
    costs : PairCosts
    shaft : ndarray of int, shape (occasions,)
        Which shaft; shafts are drawn anew as a whole.
    neighbours : Neighbours
    replicates : int
    draws_of : int
        How many times as many shafts as are on record.
    rng : Generator
    """

    def __init__(
        self,
        costs: PairCosts,
        shaft: IntArray,
        neighbours: Neighbours,
        *,
        replicates: int,
        draws_of: int = 1,
        rng: np.random.Generator,
    ) -> None:
        self.weight = shafts_anew(shaft, replicates=replicates, draws_of=draws_of, rng=rng)
        laws = len(costs.risk)
        which = np.arange(replicates) % max(laws - 1, 1) + (1 if laws > 1 else 0)
        self._law = np.minimum(which, laws - 1)
        self._cost = {law: costs.whole(law) for law in np.unique(self._law)}
        self._neighbours = neighbours

    def best(self, number: int) -> list[SizeSet]:
        """Give the best set of so many sizes in every draw."""
        return [
            best_sets(self._cost[law], most=number, weight=weight, neighbours=self._neighbours)[-1]
            for law, weight in zip(self._law, self.weight, strict=True)
        ]

    def each(self, chosen: tuple[int, ...]) -> FloatArray:
        """Give the mean cost of a shaft with a set in every draw, what it costs besides included."""
        served = [
            cost_of_set(self._cost[law], chosen, weight=weight)
            for law, weight in zip(self._law, self.weight, strict=True)
        ]
        return np.array(served) + self._neighbours.of(chosen)
