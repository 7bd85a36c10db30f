"""Shafts measured again after running, invented by a few lines that share nothing with the package's own simulator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.growth.fit import BETWEEN, GrowthStates
from wearstats.domain.arrays import FloatArray

HOURS = {"standby": 150.0, "daily": 1500.0, "continuous": 6500.0}
RATE = 1.5


@dataclass(frozen=True)
class Invented:
    """States, and the truth behind them: own rates in um per 1000 h, and true wear at each state."""

    states: GrowthStates
    own_rate: FloatArray
    wear_um: FloatArray


def invent(
    shafts: int,
    *,
    rng: np.random.Generator,
    own_sd: float = 0.6,
    loose_factor: float = 1.0,
    again: float = 1.0,
    with_age: float = 0.0,
) -> Invented:
    """Invent shafts of three duties, most with two states and some with three.

    Owners (bias SD 6, occasion 3) read every state of their own shaft, except where one of three workshop hands (1.5
    and 1.1) did. Own rates are gamma. `with_age` lets shafts be the more worn the more hours they had, beyond growth.
    """
    most, hands = 3, 3
    count = np.where(rng.random(shafts) < again, np.where(rng.random(shafts) < 0.2, 3, 2), 1)
    seen = np.arange(most) < count[:, None]
    duty = rng.choice(list(HOURS), shafts, p=[0.3, 0.45, 0.25])
    usual = np.array([HOURS[name] for name in duty])
    step = usual[:, None] * rng.gamma(2.0, 0.5, (shafts, most))
    step[:, 0] = 0.0
    start = 6 * usual * rng.uniform(0.3, 1.7, shafts)
    loose = rng.random((shafts, most)) < 0.45
    own = np.full(shafts, RATE)
    if own_sd > 0:
        shape = (RATE / own_sd) ** 2
        own = RATE * rng.gamma(shape, 1 / shape, shafts)
    lost = np.cumsum(own[:, None] * step / 1000 * np.where(loose, loose_factor, 1.0), axis=1)
    level = 40 * rng.gamma(2.0, 0.5, shafts) + with_age * start / usual
    true = level[:, None] + lost
    workshop = rng.random((shafts, most)) < 0.3
    hand = rng.integers(hands, size=(shafts, most))
    bias = np.where(workshop, rng.normal(0, 1.5, hands)[hand], rng.normal(0, 6.0, shafts)[:, None])
    occasion = np.where(workshop, 1.1, 3.0)
    read = true + bias + occasion * rng.standard_normal((shafts, most))
    home = (~workshop).astype(float)
    error = 36.0 * home[:, :, None] * home[:, None, :]
    diagonal = np.arange(most)
    error[:, diagonal, diagonal] += occasion**2
    shared = 1.5 * (workshop[..., None] & (hand[..., None] == np.arange(hands)))
    between = np.zeros((shafts, most, len(BETWEEN)))
    between[..., 0] = np.cumsum(step * ~loose, axis=1)
    between[..., 1] = np.cumsum(step * loose, axis=1)
    names = np.array([f"S{k}" for k in range(shafts)])
    states = GrowthStates(
        series=names,
        shaft=names,
        duty=duty,
        seen=seen,
        hours_h=start[:, None] + np.cumsum(step, axis=1),
        wear_um=read,
        between_h=between,
        own_error_um2=error,
        shared_error_um=shared,
    )
    return Invented(states=states, own_rate=own, wear_um=true)
