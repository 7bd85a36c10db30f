"""Mean and scatter of readings that a coarse gauge has rounded, told from the intervals that they stand for.

A reading shown as *r* by a gauge that reads in steps says only that the width lay in (r - step/2, r + step/2]. While
the step is at most about twice the scatter, taking step^2 / 12 off the variance does as well (Sheppard's correction);
beyond, the rounding errors of readings of one thing are nearly the same, do not average out, and only the intervals are
true.

References
----------
.. [1] D. F. Heitjan, Inference from grouped continuous data, Statistical Science 4 (1989) 164-179.
.. [2] JCGM 100:2008 (GUM), F.2.2.1: a resolution of step adds a standard uncertainty of 0.29 step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special, stats

from wearstats.analysis.estimate import Estimate
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

_DROP = 3.841458820694124
"""The 95 % point of chi-square with one degree of freedom."""
_LEAST_SD = 1e-3
"""Smallest standard deviation tried, in steps: below it nothing changes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedFit:
    """What rounded readings of one thing say.

    Parameters
    ----------
    mean_um, sd_um : Estimate
        Of the unrounded readings. ``bounded``: the readings fall on one value or two neighbouring ones, which any
        small scatter explains; then the scatter has an upper bound only, and the mean an interval, its middle given.
    step_um : float
        Resolution of the gauge.
    readings : int
        How many.
    values : int
        On how many different values they fall.
    """

    mean_um: Estimate
    sd_um: Estimate
    step_um: float
    readings: int
    values: int


def rounded_moments(mean: float, sd: float, step: float) -> tuple[float, float]:
    """Give the exact mean and variance of a normal quantity rounded to the nearest multiple of a step.

    Parameters
    ----------
    mean, sd : float
        Of the quantity, in any unit; sd > 0.
    step : float
        In the same unit, > 0.

    Returns
    -------
    mean, variance : float
        Of the rounded quantity, summed over all multiples within ten standard deviations.
    """
    reach = 10 * sd + step
    multiples = np.arange(np.floor((mean - reach) / step), np.ceil((mean + reach) / step) + 1) * step
    chances = np.exp(_log_chance((multiples - step / 2 - mean) / sd, (multiples + step / 2 - mean) / sd))
    bias = float(np.sum((multiples - mean) * chances))
    return mean + bias, float(np.sum((multiples - mean) ** 2 * chances)) - bias**2


def fit_rounded(
    values_um: ArrayLike, counts: ArrayLike, *, step_um: float, sd_um: float | None = None, level: float = 0.95
) -> RoundedFit:
    """Fit mean and standard deviation of a normal to counts by rounded value, by maximum likelihood of the intervals.

    Parameters
    ----------
    values_um : array_like, shape (values,)
        Rounded values, any order, um.
    counts : array_like of int, shape (values,)
        Readings at each.
    step_um : float
        Resolution, um, > 0.
    sd_um : float or None
        A standard deviation known from elsewhere; then only the mean is fitted.
    level : float
        Of the intervals.

    Returns
    -------
    RoundedFit

    Raises
    ------
    AnalysisError
        Without a reading.

    Notes
    -----
    Intervals are by profile likelihood. That of the mean is cut at n log(1 + t^2 / (n - 1)), so that it becomes
    Student's where the step vanishes. On one value all n readings have a chance of at most (2 Phi(step / 2 sd) - 1)^n,
    which bounds the standard deviation exactly; on two neighbouring values the bound is the profile's.
    """
    values, n = np.atleast_1d(np.asarray(values_um, dtype=float)), np.atleast_1d(np.asarray(counts, dtype=float))
    values, n = values[n > 0], n[n > 0]
    if values.size == 0:
        raise AnalysisError("there is no reading to take a mean of", needed="at least one reading")
    order = np.argsort(values)
    cells = _Cells(values[order], n[order], step_um)
    total = float(n.sum())
    distinct = int(np.unique(np.round(values / step_um)).size)

    def told(mean: Estimate, sd: Estimate) -> RoundedFit:
        return RoundedFit(mean_um=mean, sd_um=sd, step_um=step_um, readings=int(total), values=distinct)

    if sd_um is not None:
        cut = float(stats.chi2.ppf(level, 1))
        mean = _mean_given(cells, sd_um, cut, level)
        return told(mean, Estimate(value=sd_um, level=level, status="assumed"))
    spread = total - 1
    cut = total * np.log1p(stats.t.ppf((1 + level) / 2, spread) ** 2 / spread) if spread > 0 else np.inf
    if values.max() - values.min() < 1.5 * step_um:
        return told(_bounded_mean(cells, float(cut), level), _bounded_sd(cells, level))
    best_sd = _best(cells.profile_sd, cells.start_sd)
    best_mean, best = cells.best_mean(best_sd)
    low, high = (
        _crossing(lambda mean: 2 * (best - cells.profile_mean(mean)) - float(cut), best_mean, side * cells.start_sd)
        for side in (-0.3, 0.3)
    )
    drop = float(stats.chi2.ppf(level, 1))
    sd_low = _sd_crossing(cells, best, drop, best_sd, down=True)
    sd_high = _sd_crossing(cells, best, drop, best_sd, down=False)
    return told(
        Estimate(value=best_mean, low=low, high=high, level=level),
        Estimate(value=best_sd, low=sd_low, high=sd_high, level=level),
    )


def _log_chance(low: FloatArray, high: FloatArray) -> FloatArray:
    """Logarithm of the chance that a standard normal lies between, without cancellation in either tail."""
    flip = low + high > 0
    near, far = np.where(flip, -low, high), np.where(flip, -high, low)
    upper = special.log_ndtr(near)
    return np.asarray(upper + np.log(-np.expm1(np.minimum(special.log_ndtr(far) - upper, -1e-300))))


class _Cells:
    """Counts by interval, and their likelihood."""

    def __init__(self, values: FloatArray, counts: FloatArray, step: float) -> None:
        self.values, self.counts, self.step = values, counts, step
        self.total = float(counts.sum())
        self.average = float(counts @ values) / self.total
        self.start_sd = float(np.sqrt(max(float(counts @ (values - self.average) ** 2) / self.total, step**2 / 12)))

    def log_likelihood(self, mean: float, sd: float) -> float:
        half = self.step / 2
        chance = _log_chance((self.values - half - mean) / sd, (self.values + half - mean) / sd)
        return float(self.counts @ np.maximum(chance, -1e10))

    def best_mean(self, sd: float) -> tuple[float, float]:
        """Maximise over the mean (the likelihood is log-concave in it)."""
        found = optimize.minimize_scalar(
            lambda mean: -self.log_likelihood(mean, sd),
            bounds=(self.average - self.step, self.average + self.step),
            options={"xatol": 1e-5 * min(self.step, sd)},
        )
        return float(found.x), -float(found.fun)

    def profile_sd(self, sd: float) -> float:
        return self.best_mean(sd)[1]

    def profile_mean(self, mean: float) -> float:
        """Maximise over the standard deviation."""
        sd = _best(lambda trial: self.log_likelihood(mean, trial), self.start_sd + abs(mean - self.average), self.step)
        return max(self.log_likelihood(mean, sd), self.log_likelihood(mean, _LEAST_SD * self.step))


def _best(value: Callable[[float], float], start: float, step: float | None = None) -> float:
    """Find the standard deviation at which a likelihood is largest, searching in its logarithm."""
    least = float(np.log(start / 50 if step is None else _LEAST_SD * step))
    found = optimize.minimize_scalar(
        lambda log_sd: -value(float(np.exp(log_sd))),
        bounds=(least, float(np.log(start * 8))),
        options={"xatol": 1e-5},
    )
    return float(np.exp(found.x))


def _crossing(excess: Callable[[float], float], inside: float, stride: float) -> float | None:
    """Walk outward until the excess is positive, then find where it passes zero; None when it never is."""
    outside = inside + stride
    for _ in range(40):
        if excess(outside) > 0:
            return float(optimize.brentq(excess, inside, outside, xtol=1e-6 * abs(stride), rtol=1e-6))
        inside, stride = outside, 1.5 * stride
        outside = inside + stride
    return None


def _sd_crossing(cells: _Cells, best: float, drop: float, best_sd: float, *, down: bool) -> float | None:
    """Find where the profile of the standard deviation has dropped; 0.0 when small ones are all inside."""

    def excess(log_sd: float) -> float:
        return 2 * (best - cells.profile_sd(float(np.exp(log_sd)))) - drop

    if down and excess(np.log(_LEAST_SD * cells.step)) <= 0:
        return 0.0
    found = _crossing(excess, float(np.log(best_sd)), -0.2 if down else 0.2)
    return None if found is None else float(np.exp(found))


def _mean_given(cells: _Cells, sd: float, cut: float, level: float) -> Estimate:
    mean, best = cells.best_mean(sd)
    stride = max(sd / np.sqrt(cells.total), 0.05 * cells.step)
    low, high = (
        _crossing(lambda trial: 2 * (best - cells.log_likelihood(trial, sd)) - cut, mean, side * stride)
        for side in (-1, 1)
    )
    return Estimate(value=mean, low=low, high=high, level=level)


def _bounded_mean(cells: _Cells, cut: float, level: float) -> Estimate:
    """Bound the mean where any small scatter explains the readings."""
    if cells.total < 2:
        return Estimate(value=cells.average, level=level, status="bounded")
    share = cells.counts / cells.total
    top = float(cells.counts @ np.log(share))
    inside = float(cells.values.mean())
    if share.size == 2:
        # any small scatter gives both values their shares, by a mean a little to the side of their common edge
        inside -= float(special.ndtri(share[0])) * 0.02 * cells.step
    low, high = (
        _crossing(lambda mean: 2 * (top - cells.profile_mean(mean)) - cut, inside, side * 0.1 * cells.step)
        for side in (-1, 1)
    )
    value = inside if low is None or high is None else (low + high) / 2
    return Estimate(value=value, low=low, high=high, level=level, status="bounded")


def _bounded_sd(cells: _Cells, level: float) -> Estimate:
    """Bound the scatter from above where the readings fall on one value or two neighbouring ones."""
    if cells.total < 2:
        return Estimate(value=None, level=level, status="none")
    high: float | None
    if cells.values.size == 1:
        chance = (1 - level) ** (1 / cells.total)
        high = float(cells.step / 2 / special.ndtri((1 + chance) / 2))
    else:
        top = float(cells.counts @ np.log(cells.counts / cells.total))
        drop = max(_DROP, float(stats.chi2.ppf(level, 1)))
        high = _sd_crossing(cells, top, drop, 0.05 * cells.step, down=False)
    return Estimate(value=None, low=0.0, high=high, level=level, status="bounded")
