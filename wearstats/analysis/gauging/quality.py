"""How good the measurements are: repeatability and bias by kind of measuring, from the fitted width model.

The workshop's mean is taken as zero: readings alone cannot tell what all hands of the workshop have in common.

References
----------
.. [1] JCGM 100:2008 (GUM), 5.1: combined standard uncertainty.
.. [2] AIAG, Measurement Systems Analysis, 4th ed.: GRR against a tolerance, 6 standard deviations to the tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from wearstats.analysis.estimate import Z95, Estimate, Status, assumed, no_estimate
from wearstats.analysis.gauging.remarks import GaugingRemark
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.fitted import CLASS_MEAN_SD_UM, WidthFit
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import PLAY_LIMIT_UM

_FROM_COMPONENTS = remark(GaugingRemark.COMPONENTS)
DECISION_WIDTH_UM = PLAY_LIMIT_UM
"""What the measurements have to decide within: 0.001 in (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassQuality:
    """How good one kind of measuring is.

    Parameters
    ----------
    inspections : int
        How many stand behind it.
    bias_um : Estimate
        Mean bias against the workshop's mean; positive: reads too large.
    bias_sd_um : Estimate
        Spread of the bias that all readings of an inspection share, measurer and inspection together.
    bias_sd_with_check_piece_um : Estimate
        What is left of it after a pin of known size was measured once along with the shaft.
    repeatability_um : Estimate
        Scatter of readings of one place within an inspection.
    """

    inspections: int
    bias_um: Estimate
    bias_sd_um: Estimate
    bias_sd_with_check_piece_um: Estimate
    repeatability_um: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeFigures:
    """What a gauge study would print, from the components of the width model.

    Parameters
    ----------
    method : Remark
        How it was worked out.
    grr_um, part_um : Estimate
        Standard deviation of one reading's error, and of true widths of single places over the fleet.
    grr_percent_of_study : Estimate
        100 GRR / TV, TV the root of the sum of squares of both; below 10 is called good, above 30 poor.
    ndc : int or None
        Number of classes that can be told apart, 1.41 PV / GRR truncated; None without error.
    """

    method: Remark = _FROM_COMPONENTS
    grr_um: Estimate
    part_um: Estimate
    grr_percent_of_study: Estimate
    ndc: int | None


def trade_figures(fit: WidthFit, kind: str) -> TradeFigures:
    """Work a gauge study's figures out from the components [2]_, for single readings of one kind of measuring."""
    errors = [f"measurer_{kind}", f"inspection_{kind}", f"repeatability_{kind}"]
    own = np.array([float(name in errors) for name in COMPONENTS])
    part = np.array([float(name in MAP_COMPONENTS) for name in COMPONENTS])
    status: Status = "assumed" if any(fit.components_um[name].status == "assumed" for name in errors) else "ok"
    grr, parts = _sd_of(fit, own, status=status), _sd_of(fit, part, status="ok")
    error, spread = float(own @ fit.variances), float(part @ fit.variances)
    total = error + spread
    if error <= 0 or total <= 0:
        nothing = no_estimate(remark(GaugingRemark.NO_ERROR))
        return TradeFigures(grr_um=grr, part_um=parts, grr_percent_of_study=nothing, ndc=None)
    # the share of the variance moves with both; its interval is even on the logit scale
    slope = (own * spread - part * error) / total**2
    share = error / total
    logit_se = max(float(slope @ fit.variance_covariance @ slope), 0.0) ** 0.5 / max(share * (1 - share), 1e-12)
    logit = float(np.log(share / max(1 - share, 1e-12)))
    low, high = (100 * float(expit(logit + side * Z95 * logit_se)) ** 0.5 for side in (-1, 1))
    percent = Estimate(
        value=100 * share**0.5,
        low=float(low),
        high=float(high),
        method=remark(GaugingRemark.SHARE_LOGIT),
        status=status,
    )
    return TradeFigures(
        grr_um=grr, part_um=parts, grr_percent_of_study=percent, ndc=int(1.41 * (spread / error) ** 0.5)
    )


def class_quality(fit: WidthFit, data: WidthData, kind: str) -> ClassQuality:
    """Say how good one kind of measuring is.

    Parameters
    ----------
    fit : WidthFit
        The fitted width model.
    data : WidthData
        The readings it was fitted to.
    kind : {"home", "workshop", "caliper"}
        Which.

    Returns
    -------
    ClassQuality
    """
    mine = data.inspections["class"].eq(kind)
    steps = data.inspections.loc[mine, "step_um"]
    step = float(steps.median()) if len(steps) else 10.0
    names = (f"measurer_{kind}", f"inspection_{kind}")
    status: Status = "assumed" if any(fit.components_um[name].status == "assumed" for name in names) else "ok"
    weights = np.array([float(name in names) for name in COMPONENTS])
    return ClassQuality(
        inspections=int(mine.sum()),
        bias_um=_mean_bias(fit, kind),
        bias_sd_um=_sd_of(fit, weights, status=status),
        bias_sd_with_check_piece_um=_after_check_piece(
            fit, kind, weights, step=step, status=status, piece_u_um=data.piece_u_um
        ),
        repeatability_um=_repeatability(fit, kind),
    )


def _repeatability(fit: WidthFit, kind: str) -> Estimate:
    """Give the scatter of single readings; its interval by average information where the fit gave none."""
    told = fit.components_um[f"repeatability_{kind}"]
    if told.status == "assumed" or told.low is not None:
        return told
    return _sd_of(fit, np.array([float(name == f"repeatability_{kind}") for name in COMPONENTS]), status="ok")


def grr_percent(fit: WidthFit, kind: str, *, width_um: float = DECISION_WIDTH_UM) -> Estimate:
    """Give 6 standard deviations of one reading in percent of the decision width `width_um` [2]_."""
    names = (f"measurer_{kind}", f"inspection_{kind}", f"repeatability_{kind}")
    status: Status = "assumed" if any(fit.components_um[name].status == "assumed" for name in names) else "ok"
    weights = np.array([float(name in names) for name in COMPONENTS])
    spread = _sd_of(fit, weights, status=status)
    scale = 600.0 / width_um
    return Estimate(
        value=None if spread.value is None else spread.value * scale,
        low=None if spread.low is None else spread.low * scale,
        high=None if spread.high is None else spread.high * scale,
        method=remark(GaugingRemark.ONE_READING_TO_WIDTH, width_um=width_um),
        status=status,
    )


def _mean_bias(fit: WidthFit, kind: str) -> Estimate:
    if kind == "workshop":
        return assumed(0.0, low=0.0, high=0.0, why=remark(GaugingRemark.WORKSHOP_ZERO))
    found = fit.mean_of(f"class:{kind}")
    if found is None:
        sd = CLASS_MEAN_SD_UM[kind]
        return assumed(0.0, low=-Z95 * sd, high=Z95 * sd, why=remark(GaugingRemark.BIAS_NOT_COMPARED))
    value, se = found
    return Estimate(
        value=value,
        low=value - Z95 * se,
        high=value + Z95 * se,
        method=remark(GaugingRemark.BIAS_LEAST_SQUARES),
    )


def _sd_of(fit: WidthFit, weights: FloatArray, *, status: Status) -> Estimate:
    """Give the square root of a weighted sum of variances, with an interval on its logarithm."""
    variance = float(weights @ fit.variances)
    se = max(float(weights @ fit.variance_covariance @ weights), 0.0) ** 0.5
    if variance <= 0:
        return no_estimate(remark(GaugingRemark.NONE_SHOWN))
    if se == 0:
        return assumed(variance**0.5, why=remark(RemlRemark.STATED))
    return _root(variance, se, method=remark(RemlRemark.SUM_LOG_SCALE), status=status)


def _root(variance: float, se: float, *, method: Remark, status: Status) -> Estimate:
    """Give the square root of a variance with a standard error, the interval even on the logarithm."""
    # of a variance that is hardly known the interval has no upper end
    with np.errstate(over="ignore"):
        reach = float(np.exp(0.5 * Z95 * se / variance))
    sd = variance**0.5
    return Estimate(value=sd, low=sd / reach, high=sd * reach, method=method, status=status)


def _after_check_piece(
    fit: WidthFit, kind: str, weights: FloatArray, *, step: float, status: Status, piece_u_um: float = 0.0
) -> Estimate:
    """Say what is left of the bias once a pin was read: the bias and one reading's scatter combined [1]_.

    With bias variance B and reading variance r (rounding and the doubt of the pin's own size included) the bias is then
    known to ``B r / (B + r)``.
    """
    bias = float(weights @ fit.variances)
    at = COMPONENTS.index(f"repeatability_{kind}")
    reading = float(fit.variances[at]) + step**2 / 12 + piece_u_um**2
    left = bias * reading / (bias + reading) if bias > 0 else 0.0
    # by its dependence on both variances (delta method)
    slope = weights * (reading / (bias + reading)) ** 2
    slope[at] = (bias / (bias + reading)) ** 2
    se = max(float(slope @ fit.variance_covariance @ slope), 0.0) ** 0.5
    if left <= 0:
        return no_estimate(remark(GaugingRemark.NO_BIAS_SHOWN))
    if se == 0:
        return assumed(left**0.5, why=remark(GaugingRemark.CHECK_PIECE_STATED))
    return _root(left, se, method=remark(GaugingRemark.CHECK_PIECE), status=status)
