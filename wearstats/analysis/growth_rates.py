"""What is known of the rate of each single shaft, with the doubt about how much shafts differ in it.

How far one shaft's own rate lies from the mean hangs on the spread of the rates, and a few dozen shafts leave that
spread in doubt; the best single value, which may be zero, would make predictions too sure. So the spread is taken at
a row of values, each weighed by its restricted likelihood (a flat prior on the standard deviation [1]_); means and
variances are those of the mixture, and a t distribution stands for its tails.

References
----------
.. [1] A. Gelman, Prior distributions for variance parameters in hierarchical models, Bayesian Analysis 1 (2006)
   515-534.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.growth import GrowthFit
from wearstats.analysis.growth_likelihood import MixedFit
from wearstats.analysis.reml import FloatArray
from wearstats.errors import AnalysisError

_STEPS = 12
_RISE = 9.0
_STRETCHES = 8
_LEAST_FREEDOM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RatePrediction:
    """Rates of single shafts.

    Parameters
    ----------
    fit : GrowthFit
        The model.
    fits : tuple of MixedFit
        The same with the spread of the rates held at a row of values.
    weights : ndarray, shape (fits,)
        How likely each is; they sum to 1.
    """

    fit: GrowthFit
    fits: tuple[MixedFit, ...]
    weights: FloatArray

    def of_fitted(self, names: NDArray[np.str_]) -> tuple[FloatArray, FloatArray]:
        """Predict the own rates of the shafts that were fitted.

        Parameters
        ----------
        names : ndarray of str, shape (shafts,)
            As which of the fit's names each shaft runs on.

        Returns
        -------
        rate, variance : ndarray, shape (shafts,)
            In um per 1000 h, and the variance of its error.
        """
        weights = np.stack([self.fit.rate_weights(name) for name in names.tolist()])
        own = np.zeros((names.size, len(self.fit.loads)))
        own[:, self.fit.loads.index("rate")] = 1.0
        parts = [mixed.predict(weights, own) for mixed in self.fits]
        return self._mix(np.stack([value for value, _ in parts]), np.stack([variance for _, variance in parts]))

    def of_another(self, name: str) -> tuple[float, float]:
        """Predict the rate of a shaft that was not measured again: its value and the variance of its error."""
        weights = self.fit.rate_weights(name)
        values = np.array([[mixed.combine(weights)[0]] for mixed in self.fits])
        value, variance = self._mix(values, self._variances(weights)[:, None])
        return float(value[0]), float(variance[0])

    def freedom(self, name: str) -> float:
        """Degrees of freedom of a single rate: from how much its variance differs over the mixture (Satterthwaite)."""
        variances = self._variances(self.fit.rate_weights(name))
        mean = float(self.weights @ variances)
        differs = float(self.weights @ (variances - mean) ** 2)
        return max(2 * mean**2 / differs, _LEAST_FREEDOM) if differs > 0 else np.inf

    def _variances(self, weights: FloatArray) -> FloatArray:
        """Variance of the rate of a shaft not measured again at each spread, shape (fits,)."""
        place = self.fit.loads.index("rate")
        return np.array([mixed.combine(weights)[1] ** 2 + mixed.variances[place] for mixed in self.fits])

    def _mix(self, values: FloatArray, variances: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and variance of the mixture; arrays of shape (fits, shafts)."""
        mean = self.weights @ values
        return mean, self.weights @ (variances + (values - mean) ** 2)


def predict_rates(fit: GrowthFit) -> RatePrediction:
    """Weigh the spreads that the rates may have.

    Parameters
    ----------
    fit : GrowthFit
        The model.

    Returns
    -------
    RatePrediction
    """
    mixed = fit.mixed
    place = fit.loads.index("rate")
    _, se, _ = mixed.combine(fit.rate_weights(fit.names[0]))
    best = float(np.sqrt(mixed.variances[place]))
    top = 2 * best + 2 * se
    for _ in range(_STRETCHES):
        furthest = _held(fit, place, top)
        if furthest is None or furthest.criterion - mixed.criterion > _RISE:
            break
        top *= 1.5
    spreads = np.linspace(0.0, top, _STEPS)
    found = [held for held in (_held(fit, place, float(sd)) for sd in spreads) if held is not None]
    rise = np.array([held.criterion for held in found])
    weights = np.exp(-(rise - rise.min()) / 2)
    return RatePrediction(fit=fit, fits=tuple(found), weights=weights / weights.sum())


def _held(fit: GrowthFit, place: int, sd: float) -> MixedFit | None:
    """Fit with the spread of the rates held; None where the others do not settle."""
    start = np.where(fit.mixed.variances > 0, fit.mixed.variances, 0.01)
    start[place] = sd**2
    free = np.arange(start.size) != place
    try:
        return fit.mixed.likelihood.fit(start, free=free)
    except AnalysisError:
        return None
