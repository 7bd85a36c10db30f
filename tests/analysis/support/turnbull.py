"""Turnbull's estimate straight from intervals."""

import numpy as np
from numpy.typing import ArrayLike

from wearstats.analysis.survival.turnbull import TurnbullCurve, find_cells, fit_cells


def fit_turnbull(
    left: ArrayLike,
    right: ArrayLike,
    *,
    entry: ArrayLike | None = None,
    weight: ArrayLike | None = None,
    silent_from: ArrayLike | None = None,
    unreported: float = 1.0,
    tolerance: float = 1e-8,
) -> TurnbullCurve:
    cells = find_cells(left, right, entry=entry, silent_from=silent_from)
    weights = np.ones(cells.first.size) if weight is None else np.asarray(weight, dtype=float)
    return fit_cells(cells, weights, unreported=unreported, tolerance=tolerance)
