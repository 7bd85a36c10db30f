"""What would follow if the silence meant something else than it is taken to mean, or if records were not there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.loosening.fit import LooseningFit, Objective
from wearstats.analysis.loosening.likelihood import shaft_scores, spoiled_chances
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns

CHANCES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99)
SILENT_HAZARDS = (0.5, 1.0, 2.0, 3.0)

MOST = 3
"""Shafts that are left out in turn."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilenceSensitivity:
    """Answers under other meanings of silence.

    Parameters
    ----------
    frame : DataFrame
        ``chance`` (of a failure being reported unasked, held there), ``silent_hazard`` (how many times as often silent
        owners' hubs fail from their last word on), ``slope`` (log hazard per 10 um), ``risk`` (by the horizon, averaged
        over the fittings on record, the silent ones at their own hazard), ``log_likelihood`` (penalised, at the best
        values of the rest).
    """

    frame: Annotated[pd.DataFrame, columns(number="chance silent_hazard slope risk log_likelihood")]


def vary_silence(
    fit: LooseningFit,
    *,
    months: float,
    chances: Sequence[float] = CHANCES,
    silent_hazards: Sequence[float] = SILENT_HAZARDS,
) -> SilenceSensitivity:
    """Fit anew with the chance of a report held, and with silent hubs failing more or less often.

    Parameters
    ----------
    fit : LooseningFit
        The fit.
    months : float
        Horizon of the risk.
    chances, silent_hazards : sequence of float
        The values tried.

    Returns
    -------
    SilenceSensitivity
        With `silent_hazard` 1 for every chance, and every `silent_hazard` at the fitted chance.
    """
    last = fit.parameters.size - 1
    held = [(chance, 1.0) for chance in chances] + [(fit.chance, times) for times in silent_hazards]
    rows = []
    for chance, times in held:
        data = replace(fit.data, silent_hazard=times)
        objective = Objective(data, fit.penalty_sd)
        start = fit.parameters.copy()
        start[last] = np.log(chance / (1.0 - chance))
        found = objective.maximise(start, fixed=last, covariance=fit.covariance)
        moved = replace(fit, parameters=found)
        rows.append((chance, times, float(found[1]), _risk(moved, times, months), objective.value(found)[0]))
    columns = ["chance", "silent_hazard", "slope", "risk", "log_likelihood"]
    return SilenceSensitivity(frame=pd.DataFrame(rows, columns=columns))


def _risk(fit: LooseningFit, times: float, months: float) -> float:
    """Average risk by some months of the fittings on record, silent ones failing so many times as often."""
    data = fit.data
    level = fit.levels()
    until = np.minimum(months, np.where(data.failed | (data.left <= data.last_word), months, data.last_word))
    reach = (np.array([until, np.full_like(until, months)]) / REFERENCE_MONTHS) ** fit.shape
    hazard = np.exp(level) * (reach[0] + times * (reach[1] - reach[0]))[:, None]
    return float(np.mean(-np.expm1(-hazard)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Influence:
    """What the slope hangs on.

    Parameters
    ----------
    shaft : ndarray of int, shape (shafts,)
        Shafts without which the slope changes most, numbered as in the fit's data, the most first.
    slope_without : ndarray, shape (shafts,)
        Log hazard per 10 um, fitted anew without each.
    spoiled : ndarray, shape (fittings,)
        Chance that each fitting's records are wrong, now that its outcome is known; in the order of the fit's data.
    """

    shaft: IntArray
    slope_without: FloatArray
    spoiled: FloatArray


def find_influence(fit: LooseningFit, *, most: int = MOST) -> Influence:
    """Leave out those shafts in turn whose scores pull most at the slope of a straight line.

    Notes
    -----
    The pull of a shaft's score is the first step towards the fit without it (R. D. Cook, Assessment of local
    influence, J. Royal Statistical Society B 48 (1986) 133-169); those that pull most are then fitted without in full.
    """
    data = fit.data
    pull = np.abs(shaft_scores(data, fit.parameters)[1] @ fit.covariance[1])
    # without the last failure there is nothing to fit
    failures = np.add.reduceat(data.failed.astype(np.int64), data.first_row)
    some = np.flatnonzero(failures < failures.sum())
    first = some[np.argsort(-pull[some], kind="stable")[:most]]
    without = np.array([_slope_without(fit, int(shaft)) for shaft in first], dtype=float)
    order = np.argsort(-np.abs(without - fit.slope), kind="stable")
    return Influence(shaft=first[order], slope_without=without[order], spoiled=spoiled_chances(data, fit.parameters))


def _slope_without(fit: LooseningFit, shaft: int) -> float:
    others = np.arange(fit.data.first_row.size) != shaft
    objective = Objective(fit.data.of_shafts(others), fit.penalty_sd)
    return float(objective.maximise(fit.parameters, covariance=fit.covariance)[1])
