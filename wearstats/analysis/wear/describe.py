"""How wear is spread over the shafts, freed of measurement error.

Where there are shafts enough the spread is a fitted law (`wearstats.analysis.wear.mixture`). For a few shafts: a
predicted width is drawn towards the mean by as much as its readings are doubtful, so predictions are less spread than
the truth, and means of raw readings more. The spread is put right here by stretching the predictions until their
variance is that of the true widths (constrained empirical Bayes).

References
----------
.. [1] T. A. Louis, Estimating a population of parameter values using Bayes and empirical Bayes methods, JASA 79 (1984)
   393-398.
.. [2] M. Ghosh, Constrained Bayes estimation with applications, JASA 87 (1992) 533-540.
.. [3] P. Hall, On the removal of skewness by transformation, J. Roy. Statist. Soc. B 54 (1992) 221-228.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.mixture import LEAST_SHAFTS, WearMixture, fit_wear_mixture
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearDistribution:
    """Wear over the shafts of one population.

    Parameters
    ----------
    shafts : int
        How many.
    mean_um : Estimate
        Mean wear in um (positive: metal lost).
    quantiles_um : dict of str to Estimate
        Quantiles of the true mean wear of a shaft, by probability as text.
    mixture : WearMixture or None
        The fitted laws; None where there were too few shafts.
    """

    shafts: int
    mean_um: Estimate
    quantiles_um: dict[str, Estimate]
    mixture: WearMixture | None = None

    def to_dict(self) -> dict[str, object]:
        """Give the part of the ``--json`` document."""
        return {
            "mean": self.mean_um,
            "unworn_share": self.unworn_share,
            "quantiles": self.quantiles_um,
            "families": () if self.mixture is None else self.mixture.laws,
        }

    @property
    def unworn_share(self) -> Estimate:
        """Share of shafts as good as new."""
        if self.mixture is not None:
            return self.mixture.unworn_share
        return no_estimate(remark(WearRemark.UNWORN_FEW_SHAFTS, least=LEAST_SHAFTS))


def wear_of(
    read_um: FloatArray,
    read_sd_um: FloatArray,
    predicted_um: FloatArray,
    predicted_sd_um: FloatArray,
    *,
    common_se_um: float,
    rng: np.random.Generator,
    unworn: bool = True,
) -> WearDistribution:
    """Describe the distribution of true wear by a law where there are shafts enough, else by stretched predictions.

    Parameters
    ----------
    read_um, read_sd_um : ndarray, shape (shafts,)
        Mean wear of each shaft as its own readings have it, and the standard deviation of its error.
    predicted_um, predicted_sd_um : ndarray, shape (shafts,)
        The same drawn towards the other shafts.
    common_se_um : float
        Standard error of what all readings share (the mean bias of home measuring).
    rng : Generator
        For the bootstrap of few shafts.
    unworn : bool
        Whether the share of unworn shafts is asked for.

    Returns
    -------
    WearDistribution

    Raises
    ------
    AnalysisError
        With fewer than two shafts.
    """
    if read_um.size < LEAST_SHAFTS or float(np.ptp(read_um)) == 0:
        return describe_wear(predicted_um, predicted_sd_um**2, common_se_um=common_se_um, rng=rng)
    mixture = fit_wear_mixture(read_um, read_sd_um, unworn=unworn)
    quantiles = mixture.law.quantiles_um(QUANTILES, common_se_um=common_se_um)
    return WearDistribution(
        shafts=int(read_um.size),
        mean_um=mean_as_read(read_um, common_se_um),
        quantiles_um=dict(zip((f"{p:g}" for p in QUANTILES), quantiles, strict=True)),
        mixture=mixture,
    )


def mean_as_read(read_um: FloatArray, common_se_um: float) -> Estimate:
    """Mean of what was read: errors average out, so it needs no law, and its interval holds whatever the law is.

    Few shafts are far more worn than the others, so the mean of a sample is skew; its interval is put right for that by
    Hall's transformation of Student's t [3]_.
    """
    shafts, value = read_um.size, float(read_um.mean())
    own = float(read_um.std(ddof=1)) / shafts**0.5
    skew = float(stats.skew(read_um)) / shafts**0.5
    t = stats.t.ppf([0.025, 0.975], shafts - 1)
    if abs(skew) > 1e-6:
        t = (np.cbrt(1 + skew * (t - skew / 6)) - 1) * 3 / skew
    common = float(stats.norm.ppf(0.975)) * common_se_um
    return Estimate(
        value=value,
        low=value - float(np.hypot(own * t[1], common)),
        high=value + float(np.hypot(own * t[0], common)),
        method=remark(WearRemark.AS_READ),
    )


def describe_wear(
    wear_um: FloatArray,
    error_variance_um2: FloatArray,
    *,
    common_se_um: float,
    rng: np.random.Generator,
    replicates: int = 400,
) -> WearDistribution:
    """Describe the distribution of true wear.

    Parameters
    ----------
    wear_um : ndarray, shape (shafts,)
        Predicted mean wear of each shaft.
    error_variance_um2 : ndarray, shape (shafts,)
        Variance of each prediction's error.
    common_se_um : float
        Standard error of what all predictions share (the mean bias of home measuring).
    rng : Generator
        For the bootstrap.
    replicates : int
        How many.

    Returns
    -------
    WearDistribution

    Raises
    ------
    AnalysisError
        With fewer than two shafts.
    """
    if wear_um.size < 2:
        raise AnalysisError("one shaft shows no distribution of wear", needed="readings of at least two shafts")
    probabilities = np.array(QUANTILES)
    draws = rng.integers(0, wear_um.size, (replicates, wear_um.size))
    shift = rng.normal(0.0, common_se_um, replicates)
    sampled = _stretch(wear_um[draws], error_variance_um2[draws])
    means = sampled.mean(axis=1) + shift
    quantiles = np.quantile(sampled, probabilities, axis=1) + shift
    point = _stretch(wear_um[None], error_variance_um2[None])[0]
    at = np.quantile(point, probabilities)
    return WearDistribution(
        shafts=int(wear_um.size),
        mean_um=_estimate(float(point.mean()), means),
        quantiles_um={
            f"{probability:g}": _estimate(float(value), draw)
            for probability, value, draw in zip(probabilities, at, quantiles, strict=True)
        },
    )


def _stretch(wear_um: FloatArray, error_variance_um2: FloatArray) -> FloatArray:
    """Give each row the variance of the truth, shape (rows, shafts)."""
    mean = wear_um.mean(axis=1, keepdims=True)
    spread = wear_um.var(axis=1, keepdims=True)
    missing = error_variance_um2.mean(axis=1, keepdims=True)
    stretch = np.sqrt(1 + missing / np.maximum(spread, 1e-9))
    return np.asarray(mean + stretch * (wear_um - mean))


def _estimate(value: float, draws: FloatArray) -> Estimate:
    low, high = np.quantile(draws, [0.025, 0.975])
    return Estimate(value=value, low=float(low), high=float(high), method=remark(WearRemark.STRETCHED))
