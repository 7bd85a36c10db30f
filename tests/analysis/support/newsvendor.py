"""How many to have for one season when too many and too few both cost: the textbook rule, exact.

The cost is least at the smallest quantity whose chance of sufficing reaches ``under / (under + over)`` (Arrow, Harris
and Marschak, Econometrica 19 (1951) 250; chapter "newsvendor" of Cachon and Terwiesch, *Matching Supply with Demand*).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from wearstats.domain.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Newsvendor:
    """A quantity and what comes of it.

    Parameters
    ----------
    quantity : float
        How many to have.
    lacking, left : float
        Expected needs not served; expected number left over.
    cost : float
        ``under * lacking + over * left``.
    """

    quantity: float
    lacking: float
    left: float
    cost: float


def newsvendor_normal(mean: float, sd: float, *, under: float, over: float) -> Newsvendor:
    """Quantity for normal demand, costs of one too few and one too many given."""
    z = float(norm.ppf(under / (under + over)))
    lacking = sd * (float(norm.pdf(z)) - z * float(norm.sf(z)))
    left = lacking + z * sd
    return Newsvendor(quantity=mean + z * sd, lacking=lacking, left=left, cost=under * lacking + over * left)


def newsvendor_counts(chance: FloatArray, *, under: float, over: float) -> Newsvendor:
    """Quantity for counted demand.

    Parameters
    ----------
    chance : ndarray, shape (counts,)
        Probability of a demand of 0, 1, …; sums to one.
    under, over : float
        Cost of one too few and of one too many, not below 0, one of them above.
    """
    count = np.arange(chance.size, dtype=float)
    quantity = int(np.searchsorted(np.cumsum(chance), under / (under + over) - 1e-12))
    quantity = min(quantity, chance.size - 1)
    lacking = float(np.maximum(count - quantity, 0.0) @ chance)
    left = float(np.maximum(quantity - count, 0.0) @ chance)
    return Newsvendor(quantity=float(quantity), lacking=lacking, left=left, cost=under * lacking + over * left)
