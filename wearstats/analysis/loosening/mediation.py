"""Whether a way of fitting does worse at the same gap, and how much of its difference runs through the gap.

Only fittings whose gap lies where both ways occur are asked. Each is predicted twice by the fitted law, once fitted
one way and once the other, all else as it is; the mean difference is the answer. The same with a law that knows no
gap gives the whole difference, and what the gap takes of it is said to run through the gap. That is no proof of
cause: it holds if, the readings, duty and gap given, nothing else that matters goes with the way of fitting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from wearstats.analysis.estimate import Z95, Estimate, no_estimate
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import BoolArray, FloatArray

FEWEST = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SameGap:
    """Two ways of fitting at one gap.

    Parameters
    ----------
    difference : Estimate
        Risk by the horizon, first way less the other, at the same gap.
    whole_difference : Estimate
        The same, gap not held.
    through_gap : Estimate
        Share of the whole difference that the gap takes away; ``none`` where the whole difference may be nothing.
    low_um, high_um : float
        Gaps at which both ways occur.
    fittings : int
        Fittings with such a gap.
    """

    difference: Estimate
    whole_difference: Estimate
    through_gap: Estimate
    low_um: float
    high_um: float
    fittings: int

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        names = ("difference", "whole_difference", "through_gap", "fittings")
        return {name: getattr(self, name) for name in names}


def compare_at_gap(
    histories: SilentHistories,
    gaps: GapNodes,
    fit: LooseningFit,
    *,
    first_way: BoolArray,
    covariates: FloatArray,
    way: int,
    months: float,
) -> SameGap:
    """Compare two ways of fitting at the same gap.

    Parameters
    ----------
    histories, gaps, covariates
        As `fit` was fitted to.
    fit : LooseningFit
        With the way of fitting among the covariates.
    first_way : ndarray of bool, shape (fittings,)
        Fitted the first way.
    way : int
        Column of `covariates` that holds the way.
    months : float
        Horizon.

    Returns
    -------
    SameGap
    """
    mean = gaps.mean_um
    if min(first_way.sum(), (~first_way).sum()) < FEWEST:
        return _nothing(remark(LooseningRemark.WAYS_FEW, fewest=FEWEST))
    low = float(max(np.quantile(mean[part], 0.05) for part in (first_way, ~first_way)))
    high = float(min(np.quantile(mean[part], 0.95) for part in (first_way, ~first_way)))
    inside = (mean >= low) & (mean <= high)
    both = [int((inside & part).sum()) for part in (first_way, ~first_way)]
    if low >= high or min(both) < FEWEST:
        return _nothing(remark(LooseningRemark.WAYS_APART))
    without = GapNodes(value_um=np.zeros((mean.size, 1)), shaft=gaps.shaft)
    plain = fit_loosening(histories, without, covariates=covariates)
    told = remark(LooseningRemark.SAME_GAP, fittings=int(inside.sum()), low_um=low, high_um=high)
    value, error = _difference(fit, gaps.value_um[inside], covariates, inside, way, months)
    whole, whole_error = _difference(plain, without.value_um[inside], covariates, inside, way, months)
    return SameGap(
        difference=_estimate(value, error, told),
        whole_difference=_estimate(whole, whole_error, remark(LooseningRemark.WITHOUT_GAP)),
        through_gap=_through(value, whole, whole_error),
        low_um=low,
        high_um=high,
        fittings=int(inside.sum()),
    )


def _difference(
    fit: LooseningFit, gap_um: FloatArray, covariates: FloatArray, inside: BoolArray, way: int, months: float
) -> tuple[float, float]:
    """Mean difference of risks with the way one and nought, and its standard error by the curvature."""
    centre = covariates.mean(axis=0)
    slopes = fit.data.slopes
    terms = fit.term(gap_um)
    log_time = np.log(months / REFERENCE_MONTHS)
    gradient = np.zeros(fit.parameters.size)
    total = 0.0
    for sign, at in ((1.0, 1.0), (-1.0, 0.0)):
        beside = covariates[inside].copy()
        beside[:, way] = at
        beside = beside - centre
        effect = beside @ fit.parameters[1 + slopes : -2]
        line = fit.parameters[0] + terms @ fit.parameters[1 : 1 + slopes] + effect[:, None] + fit.shape * log_time
        hazard = np.exp(np.minimum(line, 50.0))
        total += sign * float(-np.expm1(-hazard).mean())
        by_line = sign * hazard * np.exp(-hazard) / hazard.size
        gradient[0] += by_line.sum()
        gradient[1 : 1 + slopes] += np.einsum("ik,iks->s", by_line, terms)
        gradient[1 + slopes : -2] += by_line.sum(axis=1) @ beside
        gradient[-2] += float(by_line.sum()) * fit.shape * log_time
    return total, float(np.sqrt(max(float(gradient @ fit.covariance @ gradient), 0.0)))


def _estimate(value: float, error: float, how: Remark) -> Estimate:
    return Estimate(value=value, low=value - Z95 * error, high=value + Z95 * error, method=how)


def _through(value: float, whole: float, whole_error: float) -> Estimate:
    if abs(whole) <= Z95 * whole_error:  # both are 0 where all failed
        return no_estimate(remark(LooseningRemark.THROUGH_NOT_TOLD))
    return Estimate(value=1.0 - value / whole, method=remark(LooseningRemark.THROUGH_GAP))


def _nothing(why: Remark) -> SameGap:
    none = no_estimate(why)
    return SameGap(difference=none, whole_difference=none, through_gap=none, low_um=np.nan, high_um=np.nan, fittings=0)
