"""How much fittings of one shaft fail together, as a gamma frailty that leaves every fitting's own curve as it is.

A shaft multiplies the hazards of all its fittings by one number z of mean 1 and variance v. With S the common curve,
``(S**-v - 1) / v`` is the cumulated hazard at z = 1 for which fittings, over all shafts, follow S (a Clayton copula
[1]_). Few failures tell little of v, so that no one value is taken: redraws take theirs from its posterior, under a
half-Cauchy density of the standard deviation with scale 1 [2]_.

References
----------
.. [1] D. Oakes, Bivariate survival models induced by frailties, JASA 84 (1989) 487-493.
.. [2] A. Gelman, Prior distributions for variance parameters in hierarchical models, Bayesian Anal. 1 (2006) 515-534.
"""

from __future__ import annotations

import numpy as np
import scipy
from scipy import special

from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import FloatArray

SPREADS = np.array([0.0, 0.25, 0.5, 0.75, 1.0, 1.4, 2.0, 2.8, 4.0])
"""Standard deviations of a shaft's factor among which redraws choose; 4 is pairs that nearly always fail together."""

_NODES = 48
_TIGHTEST = 1e-9


def cumulated(tight: FloatArray, variance: float) -> FloatArray:
    """Give the cumulated hazard of a shaft of factor 1 where the share `tight` is still tight over all shafts."""
    tight = np.maximum(tight, _TIGHTEST)
    return np.asarray(np.expm1(-variance * np.log(tight)) / variance if variance > 0 else -np.log(tight))


def share_tight(hazard: FloatArray, variance: float) -> FloatArray:
    """Turn `cumulated` round."""
    return np.asarray(np.exp(-np.log1p(variance * hazard) / variance if variance > 0 else -hazard))


def spread_weights(told: SilentHistories, tight: dict[str, FloatArray], unreported: float) -> FloatArray:
    """Give the posterior weight of each of `SPREADS`, shape (spreads,).

    Parameters
    ----------
    told : SilentHistories
        Of the fittings compared.
    tight : dict of str to ndarray, shape (fittings,)
        Share still tight by the common curve at each fitting's ``entry``, ``left``, ``right`` and ``silent_from``
        (equal to that at ``left`` where it is not silent).
    unreported : float
        Chance that a failure of a silent fitting goes unreported.
    """
    counts = np.bincount(told.shaft)
    several = counts[told.shaft] > 1
    only_none = (SPREADS == 0).astype(float)
    if not (several & told.failed).any():
        return only_none if not several.any() else _prior()
    shaft = np.unique(told.shaft[several], return_inverse=True)[1]
    one = np.array([_log_likelihood(spread**2, shaft, tight, several, unreported) for spread in SPREADS])
    weight = np.exp(one - one.max()) * _prior()
    return np.asarray(weight / weight.sum(), dtype=float)


def _prior() -> FloatArray:
    """Half-Cauchy with scale 1, each value standing for what lies nearest to it."""
    cuts = np.concatenate([[0.0], (SPREADS[1:] + SPREADS[:-1]) / 2, [np.inf]])
    return np.asarray(np.diff(scipy.stats.halfcauchy.cdf(cuts)), dtype=float)


def _log_likelihood(
    variance: float, shaft: np.ndarray, tight: dict[str, FloatArray], several: np.ndarray, unreported: float
) -> float:
    ends = {name: cumulated(share[several], variance) for name, share in tight.items()}
    chances = (np.arange(_NODES) + 0.5) / _NODES
    factor = variance * special.gammaincinv(1 / variance, chances) if variance > 0 else np.ones(1)
    shafts = int(shaft.max()) + 1
    seen, there = np.zeros((shafts, factor.size)), np.zeros((shafts, factor.size))
    at = {name: np.exp(-hazard[:, None] * factor) for name, hazard in ends.items()}
    known = at["left"] - at["right"] + unreported * (at["silent_from"] - at["left"])
    np.add.at(seen, shaft, np.log(np.maximum(known, 1e-300)))
    np.add.at(there, shaft, -ends["entry"][:, None] * factor)
    return float(np.sum(np.log(np.maximum(np.exp(seen).mean(axis=1), 1e-300)) - np.log(np.exp(there).mean(axis=1))))
