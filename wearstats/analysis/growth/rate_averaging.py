"""A mixed model averaged over the spread of the own rates, which a few dozen shafts leave in doubt.

How sure a mean rate is, and how far one shaft's own rate may lie from it, hangs on the spread of the rates. Its best
single value is zero by chance in one small sample in five, and then the intervals are far too short. So the spread is
taken at a row of values, each weighed by its restricted likelihood (a flat prior on the standard deviation [1]_), and
means and variances are those of the mixture. At each spread the variances of the coefficients are Kenward and Roger's.

References
----------
.. [1] A. Gelman, Prior distributions for variance parameters in hierarchical models, Bayesian Analysis 1 (2006)
   515-534.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.growth.likelihood import MixedFit
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

_STEPS = 10
_RISE = 9.0
_STRETCHES = 8
_LEAST_FREEDOM = 3.0
_CHI_SQUARE_95 = 3.841458820694124


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpreadMixture:
    """A model at a row of spreads.

    Parameters
    ----------
    fits : tuple of MixedFit
        The model with the spread of one own effect held at a row of values, from zero on.
    sd : ndarray, shape (fits,)
        These values.
    weights : ndarray, shape (fits,)
        How likely each is; they sum to 1.
    place : int
        Which own effect that is.
    """

    fits: tuple[MixedFit, ...]
    sd: FloatArray
    weights: FloatArray
    place: int

    def combine(self, row: FloatArray) -> tuple[float, float, float]:
        """Estimate a combination of the coefficients: its value, standard error and degrees of freedom."""
        parts = np.array([mixed.combine(row) for mixed in self.fits])
        value, variance = self._mix(parts[:, :1], parts[:, 1:2] ** 2)
        return float(value[0]), float(np.sqrt(variance[0])), 1 / max(float(self.weights @ (1 / parts[:, 2])), 1e-12)

    def predict(self, rows: FloatArray, own: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predict combinations of coefficients and own effects of the fitted shafts: values and error variances."""
        parts = [mixed.predict(rows, own) for mixed in self.fits]
        return self._mix(np.stack([value for value, _ in parts]), np.stack([variance for _, variance in parts]))

    def predict_another(self, row: FloatArray) -> tuple[float, float]:
        """Predict a combination with the own effect of a shaft that was not fitted: value and error variance."""
        values = np.array([[mixed.combine(row)[0]] for mixed in self.fits])
        value, variance = self._mix(values, self._variances(row)[:, None])
        return float(value[0]), float(variance[0])

    def freedom(self, row: FloatArray) -> float:
        """Degrees of freedom of a single shaft's value: from how its variance differs over the mixture."""
        variances = self._variances(row)
        mean = float(self.weights @ variances)
        differs = float(self.weights @ (variances - mean) ** 2)
        return max(2 * mean**2 / differs, _LEAST_FREEDOM) if differs > 0 else np.inf

    def spread(self, best: MixedFit) -> Estimate:
        """Give the standard deviation of the own effect, with the interval of its profiled likelihood."""
        value = float(np.sqrt(best.variances[self.place]))
        rise = np.array([max(mixed.criterion - best.criterion, 0.0) for mixed in self.fits])
        below, above = self.sd < value, self.sd > value
        low = np.interp(-_CHI_SQUARE_95, -np.r_[rise[below], 0.0], np.r_[self.sd[below], value])
        reached = bool(np.any(rise[above] > _CHI_SQUARE_95))
        high = np.interp(_CHI_SQUARE_95, np.r_[0.0, rise[above]], np.r_[value, self.sd[above]])
        return Estimate(
            value=value,
            low=float(low),
            high=float(high) if reached else None,
            method=remark(RemlRemark.PROFILE),
            status="ok" if reached else "bounded",
        )

    def _variances(self, row: FloatArray) -> FloatArray:
        """Variance of a single shaft's value at each spread, shape (fits,)."""
        return np.array([mixed.combine(row)[1] ** 2 + mixed.variances[self.place] for mixed in self.fits])

    def _mix(self, values: FloatArray, variances: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and variance of the mixture; arrays of shape (fits, shafts)."""
        mean = self.weights @ values
        return mean, self.weights @ (variances + (values - mean) ** 2)


def weigh_spreads(best: MixedFit, place: int, scale: float) -> SpreadMixture:
    """Take a model at a row of spreads of one of its own effects.

    Parameters
    ----------
    best : MixedFit
        The model at its maximum.
    place : int
        Which own effect.
    scale : float
        About how far the spread may reach, to begin the search with; positive.

    Returns
    -------
    SpreadMixture
    """
    top = 2 * (float(np.sqrt(best.variances[place])) + scale)
    for _ in range(_STRETCHES):
        furthest = _held(best, place, top)
        if furthest is None or furthest.criterion - best.criterion > _RISE:
            break
        top *= 1.5
    found = [(sd, _held(best, place, sd)) for sd in np.linspace(0.0, top, _STEPS).tolist()]
    kept = [(sd, held) for sd, held in found if held is not None] or [(float(np.sqrt(best.variances[place])), best)]
    criterion = np.array([held.criterion for _, held in kept])
    weights = np.exp(-(criterion - criterion.min()) / 2)
    return SpreadMixture(
        fits=tuple(held for _, held in kept),
        sd=np.array([sd for sd, _ in kept]),
        weights=weights / weights.sum(),
        place=place,
    )


def _held(best: MixedFit, place: int, sd: float) -> MixedFit | None:
    """Fit with the spread held; None where the others do not settle."""
    start = np.where(best.variances > 0, best.variances, 0.01)
    start[place] = sd**2
    try:
        return best.likelihood.fit(start, free=np.arange(start.size) != place)
    except AnalysisError:
        return None
