"""How far the law of working loose can be trusted: on shafts it has not seen, and against curves without a law.

Shafts are parted into groups; each group is predicted by a fit to the others, with the gap and without it. Two scores
are given beside the likelihood of what was held back. Both need to know what had happened by the horizon. A fitting
that is too young for it, or that ended for another cause, is made up for by the others with weights (inverse
probability of not having been cut off, by Kaplan and Meier [1]_). One that is silent counts as failed by the chance
that it has, given that nothing was reported, as the curve of all fittings together has it: a curve that knows of no
gap favours neither side.

References
----------
.. [1] E. Graf, C. Schmoor, W. Sauerbrei, M. Schumacher, Assessment and comparison of prognostic classification schemes
   for survival data, Statistics in Medicine 18 (1999) 2529-2545 (the weights of the Brier score).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.likelihood import LooseningData, shaft_scores
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.cluster_bootstrap import Replicates
from wearstats.analysis.survival.group_risks import fit_groups
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories
from wearstats.domain.arrays import FloatArray

FOLDS = 5
_FEWEST_FAILURES = 15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeldBack:
    """What the law predicted of shafts it had not seen.

    Parameters
    ----------
    log_score_gain : Estimate
        Log likelihood of what was held back with the gap less that without, a fitting; its interval over shafts.
    brier, brier_without_gap : float
        Mean squared error of the risk by the horizon, with the gap and without.
    concordance, concordance_without_gap : float
        Share of pairs, one failed by the horizon and one not, in which the failed one had the greater risk predicted.
    groups : int
        Of shafts.
    """

    log_score_gain: Estimate
    brier: float
    brier_without_gap: float
    concordance: float | None
    concordance_without_gap: float | None
    groups: int


def hold_back(
    histories: SilentHistories,
    gaps: GapNodes,
    silence: SilenceFit,
    *,
    covariates: FloatArray,
    months: float,
    rng: np.random.Generator,
    folds: int = FOLDS,
) -> HeldBack | None:
    """Predict every shaft from the others.

    Parameters
    ----------
    histories, gaps, covariates
        As the law is fitted to.
    silence : SilenceFit
        Curve of all fittings, and chance of an unasked report.
    months : float
        Horizon of the scores.
    rng : Generator
        Parts the shafts.
    folds : int
        Groups of shafts.

    Returns
    -------
    HeldBack or None
        None where there are fewer than 15 failures, or a group would leave none to fit to.
    """
    if histories.failed.sum() < _FEWEST_FAILURES or np.unique(histories.shaft).size < 2 * folds:
        return None
    beside = covariates - covariates.mean(axis=0)
    # read only here, as it takes long
    from sklearn.model_selection import GroupKFold

    # whole shafts are held back: a fitting's fellows on its shaft share the width, and would tell of its gap
    parts = GroupKFold(n_splits=folds, shuffle=True, random_state=int(rng.integers(2**31)))
    risk = np.zeros((2, len(histories)))
    group = np.zeros(len(histories), dtype=np.int64)
    gains: list[FloatArray] = []
    start: FloatArray | None = None
    for number, (seen, unseen) in enumerate(parts.split(beside, groups=histories.shaft)):
        group[unseen] = number
        if not histories.failed[seen].any():
            return None
        told, held = histories.take(seen), histories.take(unseen)
        scores = []
        for side, nodes in enumerate((gaps, _without_gap(gaps))):
            fit = fit_loosening(told, nodes.take(seen), covariates=beside[seen], start=start if side == 0 else None)
            start = fit.parameters if side == 0 else start
            centred = beside[unseen] - beside[seen].mean(axis=0)
            data = LooseningData.of_gaps(held, nodes.take(unseen), fit.term, centred)
            scores.append(shaft_scores(data, fit.parameters)[0])
            risk[side, unseen] = _risks_of(fit, nodes.take(unseen), centred, months)
        gains.append(scores[0] - scores[1])
    gain = np.concatenate(gains)
    known, weight = outcomes_by(histories, silence, months)
    brier = [_brier(risk[side], known, weight) for side in range(2)]
    concordance = [_concordance(risk[side], known, weight, group) for side in range(2)]
    mean, error = float(gain.sum()) / len(histories), float(gain.std(ddof=1) * np.sqrt(gain.size)) / len(histories)
    return HeldBack(
        log_score_gain=Estimate(
            value=mean,
            low=mean - Z95 * error,
            high=mean + Z95 * error,
            method=remark(LooseningRemark.HELD_BACK, groups=folds),
        ),
        brier=brier[0],
        brier_without_gap=brier[1],
        concordance=concordance[0],
        concordance_without_gap=concordance[1],
        groups=folds,
    )


def outcomes_by(histories: SilentHistories, silence: SilenceFit, months: float) -> tuple[FloatArray, FloatArray]:
    """Tell what had happened by the horizon.

    Returns
    -------
    ndarray, shape (fittings,)
        1 where it had failed, 0 where not, between the two where it is silent or failed about then.
    ndarray, shape (fittings,)
        Weights that make up for fittings cut off before the horizon, whose own weight is 0.
    """
    left, failed = histories.left, histories.failed
    curve = silence.curve

    def share(at: FloatArray) -> FloatArray:
        return np.asarray(curve.share_failed(np.maximum(at, 0.0)))

    at_horizon = float(share(np.array([months]))[0])
    within = np.clip((months - left) / np.maximum(np.where(failed, histories.right - left, 1.0), 1e-9), 0.0, 1.0)
    since = np.where(np.isnan(histories.silent_from), left, histories.silent_from)
    missed = (1.0 - silence.chance) * np.maximum(share(left) - share(since), 0.0)
    by_then = (1.0 - silence.chance) * np.maximum(at_horizon - share(since), 0.0)
    hidden = np.where(since < months, by_then / np.maximum(missed + 1.0 - share(left), 1e-12), 0.0)
    known = np.where(failed, within, np.clip(hidden, 0.0, 1.0))
    middle = np.where(failed, (left + np.where(failed, histories.right, 0.0)) / 2, left)
    staying = fit_kaplan_meier(np.maximum(middle, 1e-6), ~failed)
    ended = np.minimum(middle, months)
    remain = np.maximum(staying.at(np.maximum(ended - 1e-6, 0.0)), 0.05)
    told = failed | (left >= months)
    return known, np.where(told, 1.0 / remain, 0.0)


def calibrate(
    fit: LooseningFit,
    histories: SilentHistories,
    silence: SilenceFit,
    replicates: Replicates,
    *,
    months: FloatArray,
    horizon: float,
    groups: int,
) -> pd.DataFrame:
    """Compare the risk predicted with the curve of those of whom it was predicted.

    Parameters
    ----------
    fit : LooseningFit
        The fit.
    histories, silence, replicates
        As for `wearstats.analysis.survival.group_risks.fit_groups`, the histories in the order the fit was given them.
    months : ndarray
        Grid of the curves.
    horizon : float
        Month at which they are compared, one of `months`.
    groups : int
        Groups of equal size by the risk predicted; where there are fewer fittings, each is a group.

    Returns
    -------
    DataFrame
        ``group`` from the least risk, ``fittings``, ``failures``, ``predicted``, ``happened``, ``low``, ``high``.
    """
    risk = np.empty(len(histories))
    risk[np.argsort(histories.shaft, kind="stable")] = fit.fitting_risks(horizon)
    groups = min(groups, len(histories))
    rank = np.argsort(np.argsort(risk, kind="stable"), kind="stable") * groups // len(histories)
    chosen = {str(number): rank == number for number in range(groups)}
    found = fit_groups(histories, chosen, silence, replicates, months=months)
    rows = []
    for name, group in found.items():
        seen = group.risk(horizon)
        predicted = float(risk[chosen[name]].mean())
        rows.append((int(name) + 1, group.fittings, group.failures, predicted, seen.value, seen.low, seen.high))
    columns = ["group", "fittings", "failures", "predicted", "happened", "low", "high"]
    return pd.DataFrame(rows, columns=columns).astype(dict.fromkeys(columns[3:], float))


def law_beside_curve(fit: LooseningFit, silence: SilenceFit, months: FloatArray) -> pd.DataFrame:
    """Give ``months``, ``law``, ``curve``: share failed by the fitted law over all fittings, and by the curve."""
    law = [float(fit.fitting_risks(month).mean()) if month > 0 else 0.0 for month in months]
    return pd.DataFrame({"months": months, "law": law, "curve": silence.curve.share_failed(months)})


def _risks_of(fit: LooseningFit, gaps: GapNodes, centred: FloatArray, months: float) -> FloatArray:
    slopes = fit.data.slopes
    gap = fit.term(gaps.value_um) @ fit.parameters[1 : 1 + slopes]
    beside = centred @ fit.parameters[1 + slopes : -2]
    level = fit.parameters[0] + gap + beside[:, None] + fit.shape * np.log(months / 12.0)
    return np.asarray(-np.expm1(-np.exp(np.minimum(level, 50.0))).mean(axis=1))


def _without_gap(gaps: GapNodes) -> GapNodes:
    return GapNodes(value_um=np.zeros((gaps.shaft.size, 1)), shaft=gaps.shaft)


def _brier(risk: FloatArray, known: FloatArray, weight: FloatArray) -> float:
    return float(np.sum(weight * (risk**2 - 2 * risk * known + known)) / weight.sum())


def _concordance(risk: FloatArray, known: FloatArray, weight: FloatArray, group: NDArray[np.int64]) -> float | None:
    """Share of pairs in the right order, ties counting half; only pairs that were predicted by the same fit.

    None where there is no such pair.
    """
    right = pairs = 0.0
    for number in np.unique(group):
        of = group == number
        _, place = np.unique(risk[of], return_inverse=True)
        bad = np.bincount(place, weights=weight[of] * known[of])
        good = np.bincount(place, weights=weight[of] * (1.0 - known[of]))
        # a fitting that may have failed or not is no pair with itself
        itself = float(np.sum(weight[of] ** 2 * known[of] * (1.0 - known[of])))
        right += float(np.sum(bad * (np.cumsum(good) - good / 2))) - itself / 2
        pairs += float(bad.sum() * good.sum()) - itself
    return right / pairs if pairs > 1e-9 else None
