"""Whom to ask next: what the answer would teach, and when it is due.

If a silent hub is asked about now, the answer "loose" comes with the chance q that it has worked loose unreported. One
such answer adds ``g g' / (q (1 - q))`` to the information, g the derivative of q by the law's parameters, and takes
``(C g)^2 / (q (1 - q) + g' C g)`` off the parameters' variances, C their covariance now (the rank-one update of an
inverse). What it does to the slope on the gap is what the answer teaches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.analysis.loosening.forecast import running_chances
from wearstats.analysis.loosening.likelihood import LooseningData
from wearstats.domain.arrays import BoolArray, FloatArray

_SMALLEST = 1e-6
SLOPE = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lesson:
    """What asking about each hub that runs would teach.

    Parameters
    ----------
    loose : ndarray, shape (hubs,)
        Chance that the answer is "loose".
    direction : ndarray, shape (hubs, size)
        Derivative of that chance by the parameters.
    covariance : ndarray, shape (size, size)
        Of the parameters now.
    """

    loose: FloatArray
    direction: FloatArray
    covariance: FloatArray

    def gain(self, parameter: int = SLOPE) -> FloatArray:
        """Share by which one answer shrinks a parameter's variance, 0 to 1; shape (hubs,)."""
        moved = self.direction @ self.covariance
        spread = self._spread() + np.einsum("hp,hp->h", moved, self.direction)
        return np.asarray(moved[:, parameter] ** 2 / spread / self.covariance[parameter, parameter])

    def spread_after(self, asked: FloatArray, parameter: int = SLOPE) -> float:
        """Give a parameter's standard deviation after many answers; `asked` counts each hub's, shape (hubs,)."""
        weight = asked / self._spread()
        information = np.linalg.inv(self.covariance) + np.einsum("hp,h,hq->pq", self.direction, weight, self.direction)
        return float(np.sqrt(np.linalg.inv(information)[parameter, parameter]))

    def _spread(self) -> FloatArray:
        return np.asarray(np.maximum(self.loose * (1.0 - self.loose), _SMALLEST))


def lesson_of(
    fit: LooseningFit, running: BoolArray, *, data: LooseningData | None = None, step: float = 1e-4
) -> Lesson:
    """Work out what each answer would teach.

    Parameters
    ----------
    fit : LooseningFit
        The law as it stands.
    running : ndarray of bool, shape (fittings,)
        Which hubs run still, in the order of `data`.
    data : LooseningData, optional
        Histories and gaps, where they are others than the law was fitted to.
    step : float
        Of the central differences.

    Returns
    -------
    Lesson
    """
    told = fit.data if data is None else data
    ahead = np.ones(1)  # only the present is looked at

    def loose(parameters: FloatArray) -> FloatArray:
        return running_chances(told, parameters, running, ahead)[0]

    columns = []
    for index in range(fit.parameters.size):
        shift = np.zeros(fit.parameters.size)
        shift[index] = step
        columns.append((loose(fit.parameters + shift) - loose(fit.parameters - shift)) / (2 * step))
    return Lesson(loose=loose(fit.parameters), direction=np.stack(columns, axis=1), covariance=fit.covariance)


def call_order(
    *, safety: FloatArray, limit: float, overdue: BoolArray, teaching: FloatArray, soonest: FloatArray
) -> NDArray[np.int64]:
    """Put hubs in the order in which to ask after them.

    Parameters
    ----------
    safety : ndarray, shape (hubs,)
        Chance to be loose now or soon.
    limit : float
        From where safety goes before all else, the highest first.
    overdue : ndarray of bool, shape (hubs,)
        Due by now; by what they teach.
    teaching : ndarray, shape (hubs,)
        Share of the doubt that an answer takes away.
    soonest : ndarray, shape (hubs,)
        Days until due, for the rest.

    Returns
    -------
    ndarray of int, shape (hubs,)
        Row numbers, first to ask first.
    """
    urgent = safety >= limit
    group = np.where(urgent, 0, np.where(overdue, 1, 2))
    within = np.select([urgent, overdue], [-safety, -teaching], default=soonest)
    return np.lexsort((-teaching, within, group)).astype(np.int64)
