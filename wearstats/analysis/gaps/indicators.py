"""What was noted at a fitting tells more of its gap: play, minutes filed, marks, and whether the hub slid on.

What a note means is learnt from the fittings themselves. Given the readings in hand, a fitting's gap has a
distribution. The mean of a note over fittings is a line in the mean of that distribution, with the same slope as in
the gap itself, for the error lies about the prediction and not about the truth (Berkson 1950); the note's own scatter
is what the gap's doubt leaves of the scatter about the line. A yes or no is taken through a probit, where the same
holds with the doubt added to its scatter. With that, every drawn gap is weighed by how likely it makes the note.

One note in twenty is taken to be wrong, so that none rules a gap out (judgement).

References
----------
J. Berkson, Are there two regressions?, J. American Statistical Association 45 (1950) 164-180.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_ndtr

from wearstats.domain.arrays import FloatArray, IntArray

FEWEST = 20
"""Notes of a kind below which they are not used."""
WRONG_SHARE = 0.05
_LEAST_SHARE_OWN = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator:
    """What one kind of note means.

    Parameters
    ----------
    name : str
        The note.
    notes : int
        How many it was learnt from.
    base, slope : float
        Of the line; for a yes or no, of the probit's argument.
    sd : float
        Scatter of the note at a known gap; 1 for a yes or no.
    yes_or_no : bool
        Whether the note is one.
    """

    name: str
    notes: int
    base: float
    slope: float
    sd: float
    yes_or_no: bool


def learn_indicator(name: str, note: FloatArray, mean: FloatArray, variance: FloatArray) -> Indicator | None:
    """Learn what a kind of note means.

    Parameters
    ----------
    name : str
        The note.
    note : ndarray, shape (fittings,)
        NaN where nothing was noted; a yes or no as 1 and 0.
    mean, variance : ndarray, shape (fittings,)
        Of what the note tells of (a gap, an amount filed), as the readings in hand have it.

    Returns
    -------
    Indicator or None
        None where fewer than `FEWEST` were noted, all notes are the same, or they do not go with the gap at all.
    """
    there = np.isfinite(note)
    y, x, doubt = note[there], mean[there], variance[there]
    if y.size < FEWEST or np.ptp(y) == 0 or np.ptp(x) == 0:
        return None
    yes_or_no = bool(np.isin(y, (0.0, 1.0)).all())
    if yes_or_no:
        base, slope = _probit(y, x, doubt)
        return Indicator(name=name, notes=y.size, base=base, slope=slope, sd=1.0, yes_or_no=True)
    design = np.column_stack([np.ones(y.size), x])
    (base, slope), *_ = np.linalg.lstsq(design, y, rcond=None)
    residual = float(np.sum((y - design @ [base, slope]) ** 2) / (y.size - 2))
    own = max(residual - slope**2 * float(doubt.mean()), _LEAST_SHARE_OWN * residual)
    error = np.sqrt(residual / np.sum((x - x.mean()) ** 2))
    if abs(slope) < 2 * error or own <= 0:
        return None
    return Indicator(
        name=name, notes=y.size, base=float(base), slope=float(slope), sd=float(np.sqrt(own)), yes_or_no=False
    )


def weigh(indicator: Indicator, note: FloatArray, drawn: FloatArray) -> FloatArray:
    """Weigh draws by a note.

    Parameters
    ----------
    indicator : Indicator
        What the note means.
    note : ndarray, shape (fittings,)
        NaN where nothing was noted.
    drawn : ndarray, shape (fittings, draws)
        What the note tells of.

    Returns
    -------
    ndarray, shape (fittings, draws)
        Weights with mean 1 over each fitting's draws.
    """
    expected = indicator.base + indicator.slope * drawn
    said = np.nan_to_num(note)[:, None]
    if indicator.yes_or_no:
        log_weight = log_ndtr(np.where(said > 0.5, expected, -expected))
    else:
        log_weight = -0.5 * ((said - expected) / indicator.sd) ** 2
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight = (1.0 - WRONG_SHARE) * weight / weight.mean(axis=1, keepdims=True) + WRONG_SHARE
    return np.where(np.isfinite(note)[:, None], weight, 1.0)


def choose_draws(weight: FloatArray, shaft: IntArray) -> IntArray:
    """Choose draws by weight, the same for all fittings of a shaft, evenly spread over the cumulative weight.

    Parameters
    ----------
    weight : ndarray, shape (fittings, draws)
        Of every fitting's draws.
    shaft : ndarray of int, shape (fittings,)
        Shaft of each fitting.

    Returns
    -------
    ndarray of int, shape (fittings, draws)
        Which draws stand, equally weighted, for the weighted ones; without a note every draw is chosen once.
    """
    draws = weight.shape[1]
    _, numbered = np.unique(shaft, return_inverse=True)
    order = np.argsort(numbered, kind="stable")
    starts = np.flatnonzero(np.append(True, np.diff(numbered[order]) > 0))
    joint = np.exp(np.add.reduceat(np.log(weight[order]), starts, axis=0))
    share = np.cumsum(joint, axis=1)
    share = share / share[:, -1:]
    shafts = np.arange(starts.size)[:, None]
    wanted = (np.arange(draws) + 0.5) / draws
    found = np.searchsorted((shafts + share).ravel(), (shafts + wanted).ravel()).reshape(starts.size, draws)
    return np.asarray(np.clip(found - shafts * draws, 0, draws - 1)[numbered], dtype=np.int64)


def _probit(y: FloatArray, x: FloatArray, doubt: FloatArray) -> tuple[float, float]:
    """Fit the probit of a yes or no, the doubt about x added to its scatter, steadied a little."""
    centre, scale = float(x.mean()), float(x.std())
    sign = np.where(y > 0.5, 1.0, -1.0)

    def down(parameters: FloatArray) -> float:
        base, slope = parameters
        argument = (base + slope * (x - centre) / scale) / np.sqrt(1.0 + slope**2 * doubt / scale**2)
        return float(-log_ndtr(sign * argument).sum() + 0.5 * (slope / 10.0) ** 2)

    base, slope = minimize(down, np.array([0.0, 1.0]), method="BFGS").x
    return float(base - slope * centre / scale), float(slope / scale)
