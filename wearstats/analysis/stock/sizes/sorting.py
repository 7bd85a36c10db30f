"""What gauging every hub saves: hubs of one size spread, and each shaft gets the one on the shelf that suits it best.

The shelf is simulated: so many hubs of every size, as they come off the machine; one shaft after the other takes the
hub that costs least for it, as gauged, and another of that size takes its place. So what nobody wants stays and fills
the shelf, as it does in a shop, and the best of many is not counted again and again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.domain.arrays import FloatArray

_ROUNDS, _SETTLING = 6, 2
"""Times that all shafts are served; the first of them, while the shelf settles, do not count."""
_FEWEST_SERVED = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorting:
    """What gauging every hub, and sending the one on the shelf that suits best, would come to.

    Parameters
    ----------
    cost_a_year : dict of int to float
        Cost a year so, gauging itself not counted, by number of sizes: of the best sets of fewer sizes than chosen, and
        of the chosen one.
    saved_a_year, saved_a_hub : Estimate
        What it saves with the chosen sizes; how sure, by drawing shafts anew.
    does_for : int or None
        Fewest sizes which so cost no more than the chosen ones cost unsorted; None where no fewer do.
    finer : int or None
        The finer set that costs least unsorted, by its number of sizes; None where none is cheaper than the chosen.
    finer_saves : float
        What that saves a year against the chosen sizes, unsorted too.
    """

    cost_a_year: dict[int, float]
    saved_a_year: Estimate
    saved_a_hub: Estimate
    does_for: int | None
    finer: int | None
    finer_saves: float


def cost_sorted(
    gauged: PairCosts, sizes_um: Sequence[float], *, sd_um: float, hubs: int, rng: np.random.Generator
) -> FloatArray:
    """Simulate what shafts cost where every hub is gauged and the best on the shelf picked.

    Parameters
    ----------
    gauged : PairCosts
        Of hubs gauged at evenly spaced steps, in undersize.
    sizes_um : sequence of float
        Undersizes about which hubs come off the machine, its offset included.
    sd_um : float
        How hubs spread about that; evenly, as between two plug gauges.
    hubs : int
        Of each size on the shelf.
    rng : Generator

    Returns
    -------
    ndarray, shape (shafts,)
        Mean cost of each.
    """
    ladder = gauged.undersizes_um
    cost = gauged.fixed + gauged.failure_price * gauged.risk[0]
    instead = gauged.unserved(cost)
    half = 3.0**0.5 * sd_um
    middle = np.repeat(np.asarray(sizes_um, dtype=float), hubs)

    def step_at(um: FloatArray) -> FloatArray:
        return np.asarray(np.clip(np.rint((um - ladder[0]) / (ladder[1] - ladder[0])), 0, ladder.size - 1))

    shelf = step_at(middle + rng.uniform(-half, half, middle.size)).astype(np.int64)
    rounds = max(_ROUNDS, _SETTLING + -(-_FEWEST_SERVED // len(cost)))
    paid = np.zeros(len(cost))
    for number in range(rounds):
        order = rng.permutation(len(cost))
        # what would take the place of a hub of any size, before it is known which one goes
        apart = rng.uniform(-half, half, len(cost))
        for shaft, off in zip(order.tolist(), apart.tolist(), strict=True):
            dear = cost[shaft, shelf]
            taken = int(dear.argmin())
            sent = bool(np.isfinite(dear[taken]))
            if number >= _SETTLING:
                paid[shaft] += dear[taken] if sent else instead[shaft]
            if sent:
                shelf[taken] = int(step_at(middle[taken] + off))
    return paid / (rounds - _SETTLING)


def saved(unsorted: FloatArray, sorted_: FloatArray, weight: FloatArray, *, times: float = 1.0) -> Estimate:
    """Estimate what sorting saves a shaft, or so many.

    Parameters
    ----------
    unsorted, sorted_ : ndarray, shape (shafts,)
        What each costs.
    weight : ndarray, shape (draws, shafts)
        How often each counts, shafts drawn anew.
    times : float
        Shafts that are counted together.
    """
    each = times * (unsorted - sorted_)
    low, high = np.quantile(weight @ each / weight.sum(axis=1), [0.025, 0.975])
    value = float(each.mean())
    how = remark(StockRemark.SHAFTS_ANEW, times=len(weight))
    return Estimate(value=value, low=min(float(low), value), high=max(float(high), value), method=how)
