"""How many more hours a shaft runs until a given further width is lost, and when the shafts on record had lost one.

A shaft that has D um to go at r um an hour is past it after t hours if r t >= D. D is normal; r is log-normal, since no
shaft gains metal, with the mean and variance of the rate and, for what is known of these, the tails of a t
distribution. The hours at which the chance of being past it reaches 2.5, 50 and 97.5 % are the prediction and its
interval [1]_. Nothing is said beyond the hours that shafts on record had run: nobody has seen whether growth stays the
same there.

References
----------
.. [1] W. Q. Meeker, L. A. Escobar, Statistical Methods for Reliability Data, Wiley 1998, chapter 13: degradation with a
   random rate, the distribution of crossing times it induces, and crossing times of single paths.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr
from scipy.stats import t as student

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.domain.arrays import FloatArray

METHOD = "from its last look on, by its own rate as far as known, with the errors of rate and width"
BEYOND = "beyond the hours on record: no shaft of this duty measured again had run more than {record:.0f} h"
NO_GROWTH = "no growth is seen, so nothing says when"
_OPEN = "; it may last beyond the {record:.0f} h on record"
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
    return [_estimate(*row) if up else no_estimate(NO_GROWTH) for row, up in zip(rows, grows, strict=True)]


def _estimate(value: float, low: float, high: float, left: float, record: float) -> Estimate:
    if value > left:
        return no_estimate(BEYOND.format(record=record))
    beyond = high > left
    return Estimate(
        value=value,
        low=low,
        high=None if beyond else high,
        method=METHOD + (_OPEN.format(record=record) if beyond else ""),
        status="bounded" if beyond else "ok",
    )


def _crossing_quantiles(
    further_um: FloatArray, further_sd_um: FloatArray, rate: FloatArray, rate_sd: FloatArray, df: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hours by which the chance of having crossed is 50, 2.5 and 97.5 %, each of shape (shafts,)."""
    rate = np.maximum(rate, 1e-9)
    log_variance = np.log1p((rate_sd / rate) ** 2)
    normal = student.ppf((np.arange(_GRID) + 0.5) / _GRID, df)
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


def crossing_hours(
    hours_h: FloatArray, wear_um: FloatArray, seen: NDArray[np.bool_], threshold_um: float
) -> FloatArray:
    """Find when each shaft's wear first passed a threshold, on the straight line between two looks [1]_.

    Parameters
    ----------
    hours_h, wear_um : ndarray, shape (shafts, states)
        Hours and wear, in the order of the hours.
    seen : ndarray of bool, shape (shafts, states)
        Which states there are; those of a shaft come first in its row.
    threshold_um : float
        Which wear.

    Returns
    -------
    ndarray, shape (shafts,)
        In hours; NaN where the wear was past it at the first look already, or never was.
    """
    after = (seen & (wear_um >= threshold_um)).argmax(axis=1)
    rows = np.arange(after.size)
    crossed = (after > 0) & seen[rows, after] & (wear_um[rows, after] >= threshold_um)
    before = np.maximum(after - 1, 0)
    low, high = wear_um[rows, before], wear_um[rows, after]
    share = (threshold_um - low) / np.where(high > low, high - low, 1.0)
    hours = hours_h[rows, before] + share * (hours_h[rows, after] - hours_h[rows, before])
    return np.where(crossed, hours, np.nan)
