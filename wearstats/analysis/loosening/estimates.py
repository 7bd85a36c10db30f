"""What the fitted law of working loose says in numbers, each with its interval.

Intervals of slope, shape and chance of a report are profiles of the penalised likelihood. The gap at a risk limit goes
by the band of the curve of risk, whose curvature is taken on the scale of the logarithm of the cumulative hazard.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.fit import LooseningFit, Objective, robust_covariance
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray

PROFILE_AT_MOST = 20_000
"""Fittings up to which intervals are profiled; beyond, the curvature tells the same."""
_PROFILE_ROUNDS = 10
_PROFILE_TOLERANCE = 0.01


def slope_estimate(fit: LooseningFit, *, level: float = 0.95) -> Estimate:
    """Give the change of log hazard per 10 um, of a fit with one straight term."""
    share = fit.assumed_share(1)
    return _profiled(fit, 1, lambda value: value, _told(fit, share), share, level)


def slope_by_shafts(fit: LooseningFit, *, level: float = 0.95) -> Estimate:
    """Give the slope with an interval that does not trust the law: by how much whole shafts pull at it."""
    error = float(np.sqrt(robust_covariance(fit)[1, 1]))
    reach = float(special.ndtri(0.5 + level / 2)) * error
    return Estimate(
        value=fit.slope,
        low=fit.slope - reach,
        high=fit.slope + reach,
        level=level,
        method=remark(LooseningRemark.BY_SHAFTS),
    )


def shape_estimate(fit: LooseningFit, *, level: float = 0.95) -> Estimate:
    """Give the Weibull shape: above 1, hubs work loose the likelier the longer they ran."""
    at = fit.parameters.size - 2
    share = fit.assumed_share(at)
    return _profiled(fit, at, lambda value: float(np.exp(value)), _told(fit, share), share, level)


def chance_estimate(fit: LooseningFit, *, level: float = 0.95) -> Estimate:
    """Give the chance that a failure is reported unasked."""
    at = fit.parameters.size - 1
    if not fit.data.asked.any():
        return no_estimate(remark(LooseningRemark.NONE_FOUND))
    told = remark(LooseningRemark.REPORTS, reported=int(fit.data.unasked.sum()), found=int(fit.data.asked.sum()))
    return _profiled(fit, at, lambda value: float(1 / (1 + np.exp(-value))), told, fit.assumed_share(at), level)


def gap_at_risk(fit: LooseningFit, *, months: float, limit: float, largest_um: float, level: float = 0.95) -> Estimate:
    """Give the largest gap on record at which the chance of working loose stays under a limit.

    Parameters
    ----------
    fit : LooseningFit
        With a straight term.
    months, limit : float
        Horizon, and the chance by then that is still accepted.
    largest_um : float
        Largest gap on record; nothing is said beyond it.

    Returns
    -------
    Estimate
        Status ``bounded`` where an end of the interval lies beyond the gaps on record and is left open, ``beyond-data``
        where the estimate itself does, ``none`` where even no gap at all exceeds the limit.
    """
    grid = np.linspace(0.0, max(largest_um, 1.0), 2001)
    middle, low, high = fit.risks(grid, months, level=level)
    facts = {"months": months, "limit_percent": 100 * limit, "level_percent": 100 * level}
    crossing = _last_under(grid, middle, limit)
    certain = _last_under(grid, high, limit)
    possible = _last_under(grid, low, limit)
    if crossing is None:
        why = remark(LooseningRemark.OVER_LIMIT, **facts)
        return Estimate(value=None, high=possible, level=level, method=why, status="none")
    inside = crossing < grid[-1]
    complete = inside and certain is not None and possible is not None and possible < grid[-1]
    return Estimate(
        value=crossing if inside else None,
        low=0.0 if certain is None else certain,
        high=possible if possible is not None and possible < grid[-1] else None,
        level=level,
        method=remark(LooseningRemark.CROSSING, **facts),
        status="ok" if complete else "bounded" if inside else "beyond-data",
    )


def ratio_between_gaps(
    fit: LooseningFit, near_um: float, far_um: float, *, months: float, level: float = 0.95
) -> Estimate:
    """Give how many times as likely a hub works loose by some months at the wider of two gaps, by the delta method."""
    log_hazard, derivative = fit.log_hazards(np.array([near_um, far_um]), months)
    hazard = np.exp(np.minimum(log_hazard, 50.0))
    risk = -np.expm1(-hazard)
    # of log risk by log hazard
    by_log = hazard * np.exp(-hazard) / risk
    gradient = by_log[1] * derivative[1] - by_log[0] * derivative[0]
    reach = float(special.ndtri(0.5 + level / 2) * np.sqrt(gradient @ fit.covariance @ gradient))
    ratio = float(np.log(risk[1] / risk[0]))
    low, value, high = (float(np.exp(ratio + shift)) for shift in (-reach, 0.0, reach))
    method = remark(LooseningRemark.RATIO, near_um=near_um, far_um=far_um, months=months)
    return Estimate(value=value, low=low, high=high, level=level, method=method)


def _last_under(grid: FloatArray, risk: FloatArray, limit: float) -> float | None:
    """Last point of a grid up to which a curve stays under the limit; None where it starts over it."""
    over = np.flatnonzero(risk > limit)
    if over.size == 0:
        return float(grid[-1])
    return None if over[0] == 0 else float(grid[over[0] - 1])


def _told(fit: LooseningFit, share: float) -> Remark:
    return remark(LooseningRemark.PENALTY_SHARE, failures=fit.failures, penalty_percent=100 * share)


def _profiled(
    fit: LooseningFit, index: int, shown: Callable[[float], float], told: Remark, share: float, level: float
) -> Estimate:
    """Give one parameter with the interval in which the penalised profile likelihood falls by half a chi-square."""
    centre = float(fit.parameters[index])
    sd = float(np.sqrt(fit.told_covariance[index, index]))
    # the profile knows nothing of what is not known of the choice
    wider = float(np.sqrt(fit.covariance[index, index])) / sd
    reach = float(special.ndtri(0.5 + level / 2))
    if len(fit.data.left) > PROFILE_AT_MOST:
        low, high, how = centre - reach * sd, centre + reach * sd, LooseningRemark.CURVATURE
    else:
        low, high = (_profile_end(fit, index, centre, sign * sd, reach) for sign in (-1.0, 1.0))
        how = LooseningRemark.PROFILE
    low, high = (centre + wider * (end - centre) for end in (low, high))
    return Estimate(
        value=shown(centre),
        low=shown(low),
        high=shown(high),
        level=level,
        method=remark(how, told=told),
        status="assumed" if share > 0.5 else "ok",
    )


def _profile_end(fit: LooseningFit, index: int, centre: float, step: float, reach: float) -> float:
    """Find where the root of twice the fall of the profile is `reach`; the root is nearly straight in the parameter."""
    objective = Objective(fit.data, fit.penalty_sd)
    line = fit.told_covariance[:, index] / fit.told_covariance[index, index]
    value, root, best, best_root = centre + reach * step, 0.0, centre, 0.0
    for _ in range(_PROFILE_ROUNDS):
        start = fit.parameters + line * (value - centre)
        at = objective.maximise(start, fixed=index, covariance=fit.covariance)
        root = float(np.sqrt(2 * max(fit.penalised - objective.value(at)[0], 1e-12)))
        if abs(root - reach) < _PROFILE_TOLERANCE:
            return value
        slope = (value - best) / (root - best_root) if root != best_root else (value - centre) / root
        best, best_root = value, root
        value += float(np.clip((reach - root) * slope / step, -3.0, 3.0)) * step
    return value
