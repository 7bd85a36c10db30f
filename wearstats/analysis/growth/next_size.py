"""How many more hours a shaft runs until a given further width is lost.

A shaft that has D um to go at r um an hour is past it after t hours if r t >= D. D is normal; r is log-normal, since no
shaft gains metal, with the mean and variance of the rate and, for what is known of these, the tails of a t
distribution. The hours at which the chance of being past it reaches 2.5, 50 and 97.5 % are the prediction and its
interval [1]_. Nothing is said beyond the hours that shafts on record had run: nobody has seen whether growth stays the
same there.

References
----------
.. [1] W. Q. Meeker, L. A. Escobar, Statistical Methods for Reliability Data, Wiley 1998, chapter 13: degradation with a
   random rate, and the distribution of crossing times it induces.
"""

from __future__ import annotations

import numpy as np
from scipy import special
from scipy.special import ndtr

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.growth.remarks import GrowthRemark
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray

_GRID = 201
_HALVINGS = 36
_SHORTEST_H, _LONGEST_H = 1e-2, 1e9


def hours_until(
    further_um: FloatArray,
    further_sd_um: FloatArray,
    rate_um_per_1000h: FloatArray,
    rate_sd: FloatArray,
    *,
    df: float,
    hours_h: FloatArray,
    record_h: FloatArray,
) -> list[Estimate]:
    """Predict the hours until each shaft has lost a further width.

    Parameters
    ----------
    further_um, further_sd_um : ndarray, shape (shafts,)
        What is left to lose, and the standard deviation of its error: that of the present width.
    rate_um_per_1000h, rate_sd : ndarray, shape (shafts,)
        The shaft's rate, and the standard deviation of its error with the spread of shafts in it.
    df : float
        Degrees of freedom of the rate.
    hours_h, record_h : ndarray, shape (shafts,)
        Hours that the shaft has run, and the most on record for shafts like it.

    Returns
    -------
    list of Estimate
        Hours from now on. ``none`` where the middle of the prediction lies beyond the hours on record; ``bounded``,
        with an open upper end, where only the upper end does.
    """
    value, low, high = _crossing_quantiles(further_um, further_sd_um, rate_um_per_1000h, rate_sd, df)
    left = np.maximum(record_h - hours_h, 0.0)
    rows = zip(*(part.tolist() for part in (value, low, high, left, record_h)), strict=True)
    grows = (rate_um_per_1000h > 0).tolist()
    no_growth = no_estimate(remark(GrowthRemark.DUE_NO_GROWTH))
    return [_estimate(*row) if up else no_growth for row, up in zip(rows, grows, strict=True)]


def _estimate(value: float, low: float, high: float, left: float, record: float) -> Estimate:
    if value > left:
        return no_estimate(remark(GrowthRemark.DUE_BEYOND_RECORD, record_h=record))
    beyond = high > left
    return Estimate(
        value=value,
        low=low,
        high=None if beyond else high,
        method=remark(GrowthRemark.DUE_OPEN_END, record_h=record) if beyond else remark(GrowthRemark.DUE_BY_RATE),
        status="bounded" if beyond else "ok",
    )


def _crossing_quantiles(
    further_um: FloatArray, further_sd_um: FloatArray, rate: FloatArray, rate_sd: FloatArray, df: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hours by which the chance of having crossed is 50, 2.5 and 97.5 %, each of shape (shafts,)."""
    rate = np.maximum(rate, 1e-9)
    log_variance = np.log1p((rate_sd / rate) ** 2)
    normal = special.stdtrit(df, (np.arange(_GRID) + 0.5) / _GRID)
    rates = np.exp((np.log(rate) - log_variance / 2)[:, None] + np.sqrt(log_variance)[:, None] * normal) / 1000
    error = np.maximum(further_sd_um, 1e-9)[:, None]

    def crossed(hours: FloatArray) -> FloatArray:
        return np.asarray(ndtr((rates * hours[:, None] - further_um[:, None]) / error).mean(axis=1))

    found = []
    for wanted in (0.5, 0.025, 0.975):
        low, high = np.full(rate.size, np.log(_SHORTEST_H)), np.full(rate.size, np.log(_LONGEST_H))
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            short = crossed(np.exp(middle)) < wanted
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        already = crossed(np.zeros(rate.size)) >= wanted
        found.append(np.where(already, 0.0, np.exp((low + high) / 2)))
    return found[0], found[1], found[2]
