"""The risk of one method against another on the same shafts: curves reweighted until the groups are alike.

Each group's curve (intervals, silence weighed) is fitted with weights that make its fittings look like all fittings in
what was read and known when the hub was chosen; what the weights leave unlike is put right by lines drawn through the
fittings' pseudo-values (`wearstats.analysis.methods.doubly_robust`, `wearstats.analysis.survival.pseudo_values`).
Shafts are drawn anew for the intervals, chances, curves and lines fitted again in each draw; each risk then gets the
score interval on its effective number, and differences and ratios combine two such intervals.

It assumes that what was read when the hub was chosen, the period, the duty and the pattern are all that steered the
choice and bear on the risk; that owners answer alike whatever the readings said, given the method; and that the two
methods were both in use on such shafts. The last is checked, and without it there is no answer.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.methods.doubly_robust import (
    compare_means,
    effective_number,
    fit_chances,
    imbalance,
    inverse_weights,
    standardise,
)
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED
from wearstats.analysis.rates.two_by_two import hybrid_difference, hybrid_ratio, wilson
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.survival.cluster_bootstrap import Replicates, resample_curve
from wearstats.analysis.survival.pseudo_values import pseudo_values
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories
from wearstats.analysis.survival.turnbull import cell_fractions, fit_cells
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.domain.frames import columns

FEWEST = 20
"""Fittings that each group must have, and a quarter of it its effective number after weighting; judgement."""
RARE = 0.03
"""A method that such a shaft gets less often than this was not in use on it; judgement."""
MOST_ALONE = 0.1
"""Share of fittings that may be alone with their method; judgement."""
MOST_APART = 0.25
"""Standard deviations that the weighted groups' means may lie apart; a usual limit of balance."""

_METHOD = remark(MethodsRemark.LIKE_SHAFTS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LikeShafts:
    """Two methods on the same shafts.

    Parameters
    ----------
    difference, ratio : Estimate
        Of the risks by the horizon, first minus second and first over second; ``none`` with the reason where the
        groups do not overlap.
    first_risk, second_risk : Estimate
        Had every one of these shafts got the one or the other.
    weighted_difference, line_difference : Estimate
        The same difference by the weights alone and by the outcome lines alone, without intervals.
    std_error : float or None
        Standard error of the difference, from the draws.
    fittings : int
        How many are compared.
    chance : ndarray, shape (fittings,)
        Of being sent the first way.
    first : ndarray of bool, shape (fittings,)
        Which were.
    weight : ndarray, shape (fittings,)
        One over the chance of the way each was sent; adds up to about the number of fittings in each group.
    effective : tuple of float
        Effective number of each group after weighting, first then second.
    balance : DataFrame
        ``covariate``, ``before``, ``after``: how far the groups' means lie apart, in standard deviations.
    """

    difference: Estimate
    ratio: Estimate
    first_risk: Estimate
    second_risk: Estimate
    weighted_difference: Estimate
    line_difference: Estimate
    std_error: float | None
    fittings: int
    chance: FloatArray
    first: BoolArray
    weight: FloatArray
    effective: tuple[float, float]
    balance: Annotated[pd.DataFrame, columns(text="covariate?", number="before? after?")]


def compare_like_shafts(
    histories: SilentHistories,
    first: BoolArray,
    covariates: pd.DataFrame,
    silence: SilenceFit,
    replicates: Replicates,
    *,
    months: float,
    level: float = 0.95,
) -> LikeShafts:
    """Compare two methods on the same shafts.

    Parameters
    ----------
    histories : SilentHistories
        The fittings compared, none of them known only from a later date.
    first : ndarray of bool, shape (fittings,)
        Which were sent the first way.
    covariates : DataFrame
        One row a fitting, numbers without gaps: what was known when the hub was chosen.
    silence : SilenceFit
        The chance of an unasked report.
    replicates : Replicates
        Shafts drawn anew, of these fittings.
    months : float
    level : float
        Coverage of the intervals.

    Returns
    -------
    LikeShafts
    """
    design = standardise(covariates.to_numpy(dtype=float))
    if min(int(first.sum()), int((~first).sum())) < FEWEST:
        few = remark(MethodsRemark.TOO_FEW, fewest=FEWEST)
        return _refused(few, design, first, covariates, fitted=False)
    why = _beyond(histories, first, months) or _unlike(design, first, covariates.columns)
    if why:
        return _refused(why, design, first, covariates, fitted=True)
    chance = fit_chances(design, first)
    weight = inverse_weights(chance, first)[0]
    drawn = replicates.weight
    drawn_chance = fit_chances(design, first, weight=drawn)
    drawn_weight = inverse_weights(drawn_chance, first)
    outcome = np.zeros(len(histories))
    curves, spreads = [], []
    for group in (first, ~first):
        share, spread, values = _curve(histories, group, weight, drawn_weight, silence, replicates, months)
        outcome[group] = values
        curves.append(share)
        spreads.append(spread)
    told = compare_means(outcome, design, first, chance)
    again = compare_means(outcome, design, first, drawn_chance, drawn=drawn)
    # the lines' part of each draw is added to the draw's own curve, whose silence was weighed anew
    means = _curve_means(outcome, first, drawn_weight * drawn)
    pair = np.stack([spreads[0] + again.first - means[0], spreads[1] + again.second - means[1]])
    pair = pair[:, np.isfinite(pair).all(axis=0)]
    effective = (effective_number(weight[first]), effective_number(weight[~first]))
    # lines and chances are fitted as well: each group's spread is widened as a regression's residuals are
    free = np.array([[number / max(number - design.shape[1] - 1, number / 2)] for number in effective])
    pair = pair.mean(axis=1, keepdims=True) + (pair - pair.mean(axis=1, keepdims=True)) * np.sqrt(free)
    risks = [
        _risk(float(value[0]), pair[at], effective[at], silence, level)
        for at, value in enumerate((told.first, told.second))
    ]
    correlation = float(np.asarray(np.corrcoef(pair))[0, 1]) if bool(np.all(pair.std(axis=1) > 0)) else 0.0
    return LikeShafts(
        difference=_named(hybrid_difference(*risks, correlation=correlation), silence),
        ratio=_named(hybrid_ratio(*risks, correlation=correlation), silence),
        first_risk=risks[0],
        second_risk=risks[1],
        weighted_difference=Estimate(
            value=curves[0] - curves[1], level=level, method=remark(MethodsRemark.WEIGHTS_ALONE)
        ),
        line_difference=Estimate(
            value=float(told.outcome_line[0]), level=level, method=remark(MethodsRemark.LINES_ALONE)
        ),
        std_error=float(np.std(pair[0] - pair[1], ddof=1)),
        fittings=len(histories),
        chance=chance[0],
        first=first,
        weight=weight,
        effective=effective,
        balance=_balance(design, first, weight, covariates.columns),
    )


def take_histories(histories: SilentHistories, chosen: BoolArray) -> SilentHistories:
    """Keep some of the fittings."""
    return histories.take(chosen)


def take_replicates(replicates: Replicates, chosen: BoolArray) -> Replicates:
    """Keep some of the fittings in every draw."""
    return Replicates(weight=replicates.weight[:, chosen], chance=replicates.chance)


def _curve(
    histories: SilentHistories,
    group: BoolArray,
    weight: FloatArray,
    drawn_weight: FloatArray,
    silence: SilenceFit,
    replicates: Replicates,
    months: float,
) -> tuple[float, FloatArray, FloatArray]:
    """Share failed on a group's weighted curve, the same in every draw, and the group's pseudo-values."""
    cells, own = histories.cells(group), weight[group]
    unreported = 1.0 - silence.chance
    if not histories.failed[group].any():
        return 0.0, np.zeros(len(drawn_weight)), np.zeros(own.size)
    curve = fit_cells(cells, own, unreported=unreported, tolerance=1e-7)
    drawn = Replicates(weight=replicates.weight * drawn_weight, chance=replicates.chance)
    mass = resample_curve(cells, curve, drawn, group)
    spread = mass @ cell_fractions(cells.left, cells.right, np.asarray(months, dtype=float))
    values = pseudo_values(cells, curve, own, months, unreported=unreported)
    return float(curve.share_failed(months)), spread, values


def _curve_means(outcome: FloatArray, first: BoolArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    one, other = np.where(first, weight, 0.0), np.where(first, 0.0, weight)
    with np.errstate(invalid="ignore"):
        return one @ outcome / one.sum(axis=1), other @ outcome / other.sum(axis=1)


def _risk(value: float, spread: FloatArray, most: float, silence: SilenceFit, level: float) -> Estimate:
    """Score interval on the effective number, never more than the weights leave."""
    share = min(max(value, 0.0), 1.0)
    variance = float(np.var(spread, ddof=1))
    effective = most if variance <= 0 else min(share * (1.0 - share) / variance, most)
    found = wilson(share * effective, effective, level=level)
    return _named(Estimate(value=share, low=found.low, high=found.high, level=level, method=_METHOD), silence)


def _named(estimate: Estimate, silence: SilenceFit) -> Estimate:
    if estimate.value is None:
        return estimate
    known = silence.identified or silence.reported_unasked.status == "none"
    return dataclasses.replace(estimate, method=_METHOD, status=estimate.status if known else "assumed")


def _beyond(histories: SilentHistories, first: BoolArray, months: float) -> Remark | None:
    for group, way in ((first, AS_SUPPLIED), (~first, HAND_FITTED)):
        last = float(histories.last_word[group].max())
        if last < months:
            return remark(MethodsRemark.NOT_FOLLOWED, way=way, months=last)
    return None


def _unlike(design: FloatArray, first: BoolArray, names: pd.Index) -> Remark | None:
    """Say why the groups cannot be compared; None where they can."""
    chance = fit_chances(design, first)[0]
    weight = inverse_weights(chance[None, :], first)[0]
    alone = float(np.mean(np.where(first, 1.0 - chance, chance) < RARE))
    if alone > MOST_ALONE:
        return remark(MethodsRemark.HARDLY_EVER, percent=100 * alone)
    effective = [effective_number(weight[group]) for group in (first, ~first)]
    if min(effective) < FEWEST / 4:
        return remark(MethodsRemark.WORTH_FEW, effective=min(effective))
    apart = np.abs(imbalance(design, first, weight))
    if apart.max(initial=0.0) > MOST_APART:
        worst = str(names[int(apart.argmax())])
        return remark(MethodsRemark.NOT_ALIKE, covariate=worst, apart=float(apart.max()))
    return None


def _balance(design: FloatArray, first: BoolArray, weight: FloatArray, names: pd.Index) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "covariate": names.astype(str),
            "before": imbalance(design, first, np.ones(len(design))),
            "after": imbalance(design, first, weight),
        }
    )


def _refused(
    why: Remark, design: FloatArray, first: BoolArray, covariates: pd.DataFrame, *, fitted: bool
) -> LikeShafts:
    none = no_estimate(why)
    chance = fit_chances(design, first)[0] if fitted else np.full(first.size, math.nan)
    weight = inverse_weights(chance[None, :], first)[0]
    effective = (effective_number(weight[first]), effective_number(weight[~first])) if fitted else (0.0, 0.0)
    balance = _balance(design, first, weight, covariates.columns) if fitted else pd.DataFrame()
    return LikeShafts(
        difference=none,
        ratio=none,
        first_risk=none,
        second_risk=none,
        weighted_difference=none,
        line_difference=none,
        std_error=None,
        fittings=first.size,
        chance=chance,
        first=first,
        weight=weight,
        effective=effective,
        balance=balance,
    )
