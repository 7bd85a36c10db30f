"""What would follow if the silence meant something else than the model takes it to mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.loosening.fit import LooseningFit, Objective
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS
from wearstats.domain.frames import columns

CHANCES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99)
SILENT_HAZARDS = (0.5, 1.0, 2.0, 3.0)


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
