"""What each fitting contributes to a curve: its pseudo-value of the share failed by a month.

A curve from intervals, with silence weighed, knows nobody's outcome for sure; a regression on outcomes needs one a
fitting. The pseudo-value is the curve's share plus the number of fittings times what the share would change by if this
fitting weighed a little more (the infinitesimal jackknife). Given its covariates it has the fitting's own risk as its
mean, as long as when and how it is followed does not hang on them: what is seen is a mixture that is linear in the law
of failure, and so is the curve in what is seen [1]_, [2]_. A single pseudo-value may lie below 0 or above 1.

References
----------
.. [1] P. K. Andersen, J. P. Klein, S. Rosthoj, Generalised linear models for correlated pseudo-observations, with
   applications to multi-state models, Biometrika 90 (2003) 15-27.
.. [2] E. Parner, P. K. Andersen, M. Overgaard, Regression models for censored time-to-event data using infinitesimal
   jack-knife pseudo-observations, Lifetime Data Anal. 29 (2023) 654-671.
"""

from __future__ import annotations

import numpy as np

from wearstats.analysis.survival.turnbull import IntervalCells, TurnbullCurve, cell_fractions
from wearstats.domain.arrays import FloatArray

_SUPPORT = 1e-9


def pseudo_values(
    cells: IntervalCells, curve: TurnbullCurve, weight: FloatArray, months: float, *, unreported: float
) -> FloatArray:
    """Give every fitting's pseudo-value of the share failed.

    Parameters
    ----------
    cells : IntervalCells
        Of the fittings, none of them known only from a later date.
    curve : TurnbullCurve
        Fitted to them with `weight`.
    weight : ndarray, shape (fittings,)
        As for the curve.
    months : float
        By which they may have failed.
    unreported : float
        As for the curve.

    Returns
    -------
    ndarray, shape (fittings,)
        Their mean, weighed by `weight`, is the curve's share.

    Notes
    -----
    Where the masses m > 0 are the likelihood's maximum, its information I (weighted squares of a / a'm, a the cells a
    fitting covers) has I m = W, the sum of the weights; raising one weight moves the masses by I^-1 (a / a'm - 1).
    """
    held = np.flatnonzero(curve.mass > _SUPPORT)
    at = held[None, :]
    covered = ((cells.first[:, None] <= at) & (at < cells.stop[:, None])).astype(float)
    covered += unreported * ((cells.soft_first[:, None] <= at) & (at < cells.first[:, None]))
    chance = covered @ curve.mass[held]
    ratio = covered / np.maximum(chance, 1e-300)[:, None]
    information = (ratio * weight[:, None]).T @ ratio
    share = cell_fractions(curve.left[held], curve.right[held], np.asarray(months, dtype=float))
    # directions that the data do not tell (cells always covered together) carry nothing
    pull = np.linalg.lstsq(information, share, rcond=1e-10)[0]
    return np.asarray(share @ curve.mass[held] + weight.sum() * (ratio @ pull - pull.sum()), dtype=float)
