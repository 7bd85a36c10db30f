"""How wear is spread over shafts where few are on record: all that so few leave open is integrated over.

    read below new = lost + error,    error ~ normal(0, known sd of that shaft)
    lost ~ Pearson's third law (a gamma moved and scaled) with some mean, spread and skewness

The spread has an exponential prior density, the penalised-complexity prior of a standard deviation [1]_: shafts read
alike by chance are not taken for alike, as they would be by an estimate of zero, and two shafts do not leave the spread
endless, as they would without a prior [2]_. Skewness is anything from none to that of an exponential law; the mean
anything, but metal is lost and not gained. Spread and mean are summed over a grid.

References
----------
.. [1] D. Simpson, H. Rue, A. Riebler, T. G. Martins, S. H. Sorbye, Penalising model component complexity, Statist.
   Sci. 32 (2017) 1-28, section 3.3.
.. [2] A. Gelman, Prior distributions for variance parameters in hierarchical models, Bayesian Analysis 1 (2006)
   515-533.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray

SPREAD_ONE_IN_TWENTY_UM = 100.0
"""What the spread of shafts passes with a chance of one in twenty as far as is known before any reading: as far as
undersizes are made; judgement, as in `wearstats.analysis.widths.fitted.ONE_IN_TWENTY_UM`."""

SKEWNESS = (0.05, 0.5, 1.0, 1.5, 2.0)
"""Of losses, each as likely as the others; the first is as good as normal."""

NEW_MEAN_UM = 4.0
"""How far the mean of shafts may easily lie above the nominal width; further each um is as much less likely."""

_SPREADS_UM = np.geomspace(1.0, 300.0, 42)
_SHARES_UM = np.diff([0.0, *np.sqrt(_SPREADS_UM[1:] * _SPREADS_UM[:-1]), _SPREADS_UM[-1]])
"""How much each stands for, the first from none on."""

_MEANS = 31
_REACH = 5.0
_STRATA = 24
_GOLDEN = (5.0**0.5 - 1) / 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FewShaftsWear:
    """Laws of losses, each with its weight.

    Parameters
    ----------
    weights, mean_um, spread_um : ndarray, shape (skewness, spreads, means)
        Weights add up to 1.
    skewness : ndarray, shape (skewness,)
        Of the first axis.
    """

    weights: FloatArray
    mean_um: FloatArray
    spread_um: FloatArray
    skewness: FloatArray

    def mean(self, *, common_se_um: float) -> Estimate:
        """Give the mean loss, as a median; `common_se_um` is the standard error of what all readings share."""
        return self._estimate(self.mean_um, common_se_um)

    def quantile(self, probability: float, *, common_se_um: float) -> Estimate:
        """Give what that share of the shafts has lost less than."""
        places = _standard_quantile(self.skewness, probability)[:, None, None]
        return self._estimate(self.mean_um + self.spread_um * places, common_se_um)

    def _estimate(self, values: FloatArray, common_se_um: float) -> Estimate:
        # what all readings share, spread evenly over the laws: of thousands of these each has its part of it
        shared = special.ndtri((np.arange(values.size) + 0.5) * _GOLDEN % 1.0)
        every = values.ravel() + common_se_um * shared
        order = np.argsort(every)
        below = np.cumsum(self.weights.ravel()[order])
        low, middle, high = np.interp([0.025, 0.5, 0.975], below, every[order])
        return Estimate(
            value=float(middle),
            low=float(low),
            high=float(high),
            method=remark(WearRemark.INTEGRATED),
        )


def _exponential(spread_um: FloatArray) -> FloatArray:
    return np.asarray(-spread_um * np.log(20) / SPREAD_ONE_IN_TWENTY_UM)


def _metal_is_lost(mean_um: FloatArray) -> FloatArray:
    return np.asarray(special.log_expit(mean_um / NEW_MEAN_UM))


def weigh_laws(
    below_new_um: FloatArray,
    error_sd_um: FloatArray,
    *,
    skewness: Sequence[float] = SKEWNESS,
    log_spread_prior: Callable[[FloatArray], FloatArray] = _exponential,
    log_mean_prior: Callable[[FloatArray], FloatArray] = _metal_is_lost,
) -> FewShaftsWear:
    """Weigh laws of losses by what was read of some shafts.

    Parameters
    ----------
    below_new_um, error_sd_um : ndarray, shape (shafts,)
        What was read of each shaft, not drawn towards the others, and the standard deviation of its error; one shaft
        or more.
    skewness : sequence of float
        Above 0, each as likely as the others.
    log_spread_prior, log_mean_prior : callable
        Logarithms of prior densities.

    Returns
    -------
    FewShaftsWear
    """
    asked = np.asarray(skewness, dtype=float)
    middle, within = _strata(asked)
    # where the mean may lie at each spread: about the weighted mean, as far as shafts and errors let it
    weight = 1 / (_SPREADS_UM[:, None] ** 2 + error_sd_um**2)
    centre = (weight * below_new_um).sum(axis=1) / weight.sum(axis=1)
    reach = _REACH / np.sqrt(weight.sum(axis=1))
    mean = centre[:, None] + reach[:, None] * np.linspace(-1.0, 1.0, _MEANS)
    total = np.zeros((asked.size, *mean.shape))
    spread = _SPREADS_UM[:, None, None]
    for read, sd in zip(below_new_um, error_sd_um, strict=True):
        for k in range(asked.size):
            variance = (spread**2) * within[k] + sd**2
            apart = read - mean[:, :, None] - spread * middle[k]
            density = np.exp(-0.5 * apart**2 / variance) / np.sqrt(variance)
            total[k] += np.log(density.mean(axis=2) + 1e-300)
    # each spread stands for those about it, and steps of the mean are as wide as its reach
    total += (log_spread_prior(_SPREADS_UM) + np.log(_SHARES_UM) + np.log(reach))[:, None] + log_mean_prior(mean)
    found = np.exp(total - total.max())
    shape = found.shape
    return FewShaftsWear(
        weights=found / found.sum(),
        mean_um=np.broadcast_to(mean, shape),
        spread_um=np.broadcast_to(_SPREADS_UM[:, None], shape),
        skewness=asked,
    )


def _standard_quantile(skewness: FloatArray, probability: FloatArray | float) -> FloatArray:
    """Quantile of Pearson's third law with mean 0 and variance 1, of the broadcast shape."""
    shape = 4 / skewness**2
    return np.asarray((special.gammaincinv(shape, probability) - shape) / np.sqrt(shape))


def _strata(skewness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of the law within strata of equal chance, shapes (skewness, strata)."""
    shape = (4 / skewness**2)[:, None]
    edges = special.gammaincinv(shape, np.linspace(0.0, 1.0, _STRATA + 1))
    first = shape * np.diff(special.gammainc(shape + 1, edges)) * _STRATA
    second = shape * (shape + 1) * np.diff(special.gammainc(shape + 2, edges)) * _STRATA
    return (first - shape) / np.sqrt(shape), np.maximum(second - first**2, 0.0) / shape
