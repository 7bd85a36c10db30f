"""How wear is spread over the shafts, freed of measurement error.

Where there are shafts enough the spread is a fitted law (`wearstats.analysis.wear.mixture`). Of a few shafts all that
they leave open is integrated over (`wearstats.analysis.wear.few_shafts`); from `LEAST_SHAFTS` to twice as many the two
give way to each other step by step, so that one more shaft makes no jump.

References
----------
.. [1] P. Hall, On the removal of skewness by transformation, J. Roy. Statist. Soc. B 54 (1992) 221-228.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.few_shafts import weigh_laws
from wearstats.analysis.wear.mixture import LEAST_SHAFTS, WearMixture, fit_wear_mixture
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray

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
    read_um: FloatArray, read_sd_um: FloatArray, *, common_se_um: float, unworn: bool = True
) -> WearDistribution:
    """Describe the distribution of true wear.

    Parameters
    ----------
    read_um, read_sd_um : ndarray, shape (shafts,)
        Mean wear of each shaft as its own readings have it, and the standard deviation of its error; one shaft or more.
    common_se_um : float
        Standard error of what all readings share (the mean bias of home measuring).
    unworn : bool
        Whether the share of unworn shafts is asked for.

    Returns
    -------
    WearDistribution
    """
    shafts = int(read_um.size)
    by_law = shafts >= LEAST_SHAFTS and float(np.ptp(read_um)) > 0
    few = None if by_law and shafts >= 2 * LEAST_SHAFTS else _of_few(read_um, read_sd_um, common_se_um)
    if not by_law and few is not None:
        return few
    mixture = fit_wear_mixture(read_um, read_sd_um, unworn=unworn)
    quantiles = mixture.law.quantiles_um(QUANTILES, common_se_um=common_se_um)
    many = WearDistribution(
        shafts=shafts,
        mean_um=mean_as_read(read_um, common_se_um),
        quantiles_um=dict(zip((f"{p:g}" for p in QUANTILES), quantiles, strict=True)),
        mixture=mixture,
    )
    return many if few is None else _between(few, many, shafts / LEAST_SHAFTS - 1)


def _of_few(read_um: FloatArray, read_sd_um: FloatArray, common_se_um: float) -> WearDistribution:
    laws = weigh_laws(read_um, read_sd_um)
    return WearDistribution(
        shafts=int(read_um.size),
        mean_um=laws.mean(common_se_um=common_se_um),
        quantiles_um={f"{p:g}": laws.quantile(p, common_se_um=common_se_um) for p in QUANTILES},
    )


def _between(few: WearDistribution, many: WearDistribution, share: float) -> WearDistribution:
    """Go from one to the other by that share."""

    def moved(one: Estimate, other: Estimate) -> Estimate:
        ends = [
            None if a is None or b is None else (1 - share) * a + share * b
            for a, b in ((one.value, other.value), (one.low, other.low), (one.high, other.high))
        ]
        return replace(other, value=ends[0], low=ends[1], high=ends[2])

    return replace(
        many,
        mean_um=moved(few.mean_um, many.mean_um),
        quantiles_um={key: moved(few.quantiles_um[key], told) for key, told in many.quantiles_um.items()},
    )


def mean_as_read(read_um: FloatArray, common_se_um: float) -> Estimate:
    """Mean of what was read: errors average out, so it needs no law, and its interval holds whatever the law is.

    Few shafts are far more worn than the others, so the mean of a sample is skew; its interval is put right for that by
    Hall's transformation of Student's t [1]_.
    """
    shafts, value = read_um.size, float(read_um.mean())
    own = float(read_um.std(ddof=1)) / shafts**0.5
    off = read_um - value
    skew = float(np.mean(off**3) / np.mean(off**2) ** 1.5) / shafts**0.5 if own > 0 else 0.0
    t = special.stdtrit(shafts - 1, [0.025, 0.975])
    if abs(skew) > 1e-6:
        t = (np.cbrt(1 + skew * (t - skew / 6)) - 1) * 3 / skew
    common = float(special.ndtri(0.975)) * common_se_um
    return Estimate(
        value=value,
        low=value - float(np.hypot(own * t[1], common)),
        high=value + float(np.hypot(own * t[0], common)),
        method=remark(WearRemark.AS_READ),
    )
