"""The trade's gauge-study figures: how much of the spread of readings is the measuring's own.

References
----------
.. [1] AIAG, Measurement Systems Analysis, 4th ed.: average and range, ANOVA, ``ndc = 1.41 PV / GRR``.
.. [2] Duncan, Quality Control and Industrial Statistics: ``d2* = sqrt(d2^2 + d3^2 / g)`` for the mean of g ranges.
.. [3] Burdick, Borror, Montgomery, Design and Analysis of Gauge R&R Studies, SIAM 2005: modified large-sample
   intervals (Graybill and Wang 1980; Ting et al. 1990 where a mean square is subtracted).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy
from scipy import integrate, special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.gauging.remarks import GaugingRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.errors import AnalysisError

POOL_ABOVE_P = 0.25
"""The interaction of parts and people is pooled with repeatability when its p is above this [1]_."""


_MANY_RANGES = 15
"""With more ranges than that d2* is taken as d2, as the published constants do [1]_."""


_TAIL = 0.025


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """How much of the spread is the measuring's own.

    Parameters
    ----------
    method : Remark
        How it was worked out: the figures differ between methods on the same data.
    parts, people, trials : int
        The design; with inspections in pairs, parts are places, people the inspections of one unit.
    interaction_p : float or None
        Chance of an interaction as large when there is none; None where it cannot be told apart.
    interaction_pooled : bool
        Whether it was counted as repeatability.
    repeatability_um, reproducibility_um, interaction_um, grr_um, part_um, total_um : Estimate
        Standard deviations in the unit of the readings (EV, AV, interaction, GRR, PV, TV).
    grr_percent_of_study : Estimate
        100 GRR / TV; below 10 is called good, above 30 poor.
    grr_percent_of_contribution : Estimate
        The same in variances.
    grr_percent_of_decision_width : Estimate
        Six GRR in percent of `decision_width_um`.
    decision_width_um : float
        What the measurements have to decide within.
    ndc : int or None
        Number of classes they can tell apart, truncated; None when GRR is zero.
    """

    method: Remark
    parts: int
    people: int
    trials: int
    interaction_p: float | None
    interaction_pooled: bool
    repeatability_um: Estimate
    reproducibility_um: Estimate
    interaction_um: Estimate
    grr_um: Estimate
    part_um: Estimate
    total_um: Estimate
    grr_percent_of_study: Estimate
    grr_percent_of_contribution: Estimate
    grr_percent_of_decision_width: Estimate
    decision_width_um: float
    ndc: int | None


def study_by_anova(readings: FloatArray, *, decision_width_um: float = PLAY_LIMIT_UM) -> GaugeStudy:
    """Work a gauge study out by two-way analysis of variance [1]_, with modified large-sample intervals [3]_.

    Parameters
    ----------
    readings : ndarray, shape (parts, people, trials)
        Balanced, in um.
    decision_width_um : float
        What the measurements have to decide within.

    Returns
    -------
    GaugeStudy

    Raises
    ------
    AnalysisError
        With fewer than two parts, people or trials, or with gaps.
    """
    parts, people, trials = _check_design(readings)
    grand, by_part, by_person = readings.mean(), readings.mean(axis=(1, 2)), readings.mean(axis=(0, 2))
    cell = readings.mean(axis=2)
    squares = np.array(
        [
            people * trials * ((by_part - grand) ** 2).sum(),
            parts * trials * ((by_person - grand) ** 2).sum(),
            trials * ((cell - by_part[:, None] - by_person + grand) ** 2).sum(),
            ((readings - cell[..., None]) ** 2).sum(),
        ]
    )
    df = np.array(
        [parts - 1.0, people - 1.0, (parts - 1.0) * (people - 1), parts * people * (trials - 1.0)], dtype=float
    )
    if squares[3] <= 0:
        p = 0.0 if squares[2] > 0 else 1.0
    else:
        p = float(scipy.stats.f.sf((squares[2] / df[2]) / (squares[3] / df[3]), df[2], df[3]))
    # not at 0.05: an interaction that is pooled wrongly passes for repeatability [1]
    pooled = p > POOL_ABOVE_P
    if pooled:
        squares, df = np.r_[squares[:2], squares[2:].sum()], np.r_[df[:2], df[2:].sum()]
    mean = squares / df
    each, per = people * trials, parts * trials
    if pooled:
        weights = {
            "repeatability": [0, 0, 1.0],
            "reproducibility": [0, 1 / per, -1 / per],
            "part": [1 / each, 0, -1 / each],
        }
    else:
        weights = {
            "repeatability": [0, 0, 0, 1.0],
            "interaction": [0, 0, 1 / trials, -1 / trials],
            "reproducibility": [0, 1 / per, -1 / per, 0],
            "part": [1 / each, 0, -1 / each, 0],
        }
    return _from_mean_squares(
        mean,
        df,
        {name: np.array(weight) for name, weight in weights.items()},
        method=remark(GaugingRemark.ANOVA_POOLED if pooled else GaugingRemark.ANOVA_KEPT),
        design=(parts, people, trials),
        interaction=(p, pooled),
        width=decision_width_um,
    )


def study_by_ranges(readings: FloatArray, *, decision_width_um: float = PLAY_LIMIT_UM) -> GaugeStudy:
    """Work a gauge study out by averages and ranges [1]_; parameters, result and errors as `study_by_anova`.

    No interaction and no intervals come out of it.
    """
    parts, people, trials = _check_design(readings)
    repeat = float(np.ptp(readings, axis=2).mean()) / range_constant(trials, parts * people)
    spread = float(np.ptp(readings.mean(axis=(0, 2)))) / range_constant(people, 1)
    person2 = max(spread**2 - repeat**2 / (parts * trials), 0.0)
    part2 = (float(np.ptp(readings.mean(axis=(1, 2)))) / range_constant(parts, 1)) ** 2
    how = remark(GaugingRemark.RANGES)
    variances = {"repeatability": repeat**2, "reproducibility": person2, "part": part2}
    plain = {name: Estimate(value=math.sqrt(value), method=how) for name, value in variances.items()}
    return _assemble(
        plain,
        grr=Estimate(value=math.sqrt(repeat**2 + person2), method=how),
        method=how,
        design=(parts, people, trials),
        interaction=(None, True),
        width=decision_width_um,
    )


@lru_cache(maxsize=256)
def range_constant(size: int, ranges: int) -> float:
    """Give d2*, what the mean of `ranges` ranges of `size` normal values is divided by for their SD [2]_.

    By numerical integration of the range's density ``n (n - 1) int phi(x) phi(x + r) (Phi(x + r) - Phi(x))^(n-2) dx``.
    The published K1, K2 and K3 are its reciprocals, K1 with d2 where there are more than 15 ranges.
    """
    if size < 2:
        raise AnalysisError(f"no range of {size} value", needed="two values or more")
    x, r = np.linspace(-9, 9, 1201), np.linspace(0, 14, 1401)
    end = x + r[:, None]
    inner = scipy.stats.norm.pdf(x) * scipy.stats.norm.pdf(end) * (special.ndtr(end) - special.ndtr(x)) ** (size - 2)
    density = size * (size - 1) * np.trapezoid(inner, x, axis=1)
    first, second = (float(integrate.simpson(r**power * density, x=r)) for power in (1, 2))
    return first if ranges > _MANY_RANGES else math.sqrt(first**2 + (second - first**2) / ranges)


def large_sample_interval(mean_squares: FloatArray, df: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Give the modified large-sample 95 % interval of a weighted sum of expected mean squares [3]_.

    Parameters
    ----------
    mean_squares, df, weights : ndarray, shape (sources,)
        Independent mean squares, their degrees of freedom, and what each counts; weights may be negative.

    Returns
    -------
    tuple of float
        Low and high end, neither below zero.
    """
    used = weights != 0
    term, df, positive = np.abs(weights * mean_squares)[used], df[used], weights[used] > 0
    centre = float(np.where(positive, term, -term).sum())
    shrink = 1 - df / special.chdtri(df, _TAIL)
    grow = df / special.chdtri(df, 1 - _TAIL) - 1
    ends = []
    for mine, other, tail in ((shrink, grow, 1 - _TAIL), (grow, shrink, _TAIL)):
        square = float(((np.where(positive, mine, other) * term) ** 2).sum())
        plus, minus = np.flatnonzero(positive)[:, None], np.flatnonzero(~positive)
        if minus.size:
            f = scipy.stats.f.ppf(tail, df[plus], df[minus])
            cross = ((f - 1) ** 2 - (mine[plus] * f) ** 2 - other[minus] ** 2) / f
            square += float((cross * term[plus] * term[minus]).sum())
        ends.append(math.sqrt(max(square, 0.0)))
    return max(centre - ends[0], 0.0), max(centre + ends[1], 0.0)


def _sd(mean_squares: FloatArray, df: FloatArray, weights: FloatArray, method: Remark) -> Estimate:
    low, high = large_sample_interval(mean_squares, df, weights)
    value = max(float(weights @ mean_squares), 0.0)
    return Estimate(
        value=math.sqrt(value), low=math.sqrt(min(low, value)), high=math.sqrt(max(high, value)), method=method
    )


def _from_mean_squares(
    mean: FloatArray,
    df: FloatArray,
    weights: dict[str, FloatArray],
    *,
    method: Remark,
    design: tuple[int, int, int],
    interaction: tuple[float | None, bool],
    width: float,
) -> GaugeStudy:
    sds = {name: _sd(mean, df, weight, method) for name, weight in weights.items()}
    total = np.sum([weight for name, weight in weights.items() if name != "part"], axis=0)
    grr = _together(sds, _sd(mean, df, total, method))
    return _assemble(sds, grr=grr, method=method, design=design, interaction=interaction, width=width)


def _together(sds: dict[str, Estimate], interval: Estimate) -> Estimate:
    """Give GRR: components that came out negative count zero in the sum as well; the ends are the plain sum's."""
    value = math.sqrt(sum((found.value or 0.0) ** 2 for name, found in sds.items() if name != "part"))
    low, high = min(interval.low or 0.0, value), max(interval.high or 0.0, value)
    return Estimate(value=value, low=low, high=high, method=interval.method)


def _assemble(
    sds: dict[str, Estimate],
    *,
    grr: Estimate,
    method: Remark,
    design: tuple[int, int, int],
    interaction: tuple[float | None, bool],
    width: float,
) -> GaugeStudy:
    """Put the figures together from standard deviations."""
    measuring, part = grr.value or 0.0, sds["part"].value or 0.0
    # TV is put together from its parts; the spread of all readings would hang on how many people and trials there were
    total = math.hypot(measuring, part)
    share = measuring / total if total > 0 else math.nan
    scale = 600 / width
    no_interval = remark(GaugingRemark.RATIO_ONLY, figures=method)
    return GaugeStudy(
        method=method,
        parts=design[0],
        people=design[1],
        trials=design[2],
        interaction_p=interaction[0],
        interaction_pooled=interaction[1],
        repeatability_um=sds["repeatability"],
        reproducibility_um=sds["reproducibility"],
        interaction_um=sds.get("interaction", no_estimate(remark(GaugingRemark.INTERACTION_POOLED))),
        grr_um=grr,
        part_um=sds["part"],
        total_um=Estimate(value=total, method=no_interval),
        grr_percent_of_study=Estimate(value=100 * share, method=no_interval),
        grr_percent_of_contribution=Estimate(value=100 * share**2, method=no_interval),
        grr_percent_of_decision_width=Estimate(
            value=measuring * scale,
            low=None if grr.low is None else grr.low * scale,
            high=None if grr.high is None else grr.high * scale,
            method=remark(GaugingRemark.TO_WIDTH, width_um=width, figures=method),
        ),
        decision_width_um=width,
        ndc=int(1.41 * part / measuring) if measuring > 0 else None,
    )


def _check_design(readings: FloatArray) -> tuple[int, int, int]:
    if readings.ndim != 3 or min(readings.shape) < 2 or not np.isfinite(readings).all():
        raise AnalysisError(
            f"a gauge study of shape {' x '.join(map(str, readings.shape))} or with gaps tells nothing",
            needed="two or more parts, each read at least twice by each of two or more people",
        )
    parts, people, trials = readings.shape
    return parts, people, trials
