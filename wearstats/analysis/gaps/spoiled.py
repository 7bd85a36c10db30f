"""Which inspections and gauged hubs are on record wrongly: a decimal slipped, a figure wrong, half a turn of a thimble.

Every record is taken to be sound but for a small share, which is learnt from all of them (a contamination mixture
[1]_). How far a sound record lies from what is usual has a long tail (Student's t with 4 degrees of freedom), so that a
shaft worn far beyond all others is not taken for a slip; hubs come off one machine, and their tail is shorter (10
degrees). How far a wrong one lies may be anything (Cauchy, half of them within 0.1 mm). What is usual is the median,
and the scatter the median of the deviations, so that a few wrong records do not make themselves usual.

An inspection is looked at from three sides: against the shafts of its pattern, against the hub that was sent on it, and
against other inspections of the same shaft between the same two hubs. The hub tells most: who sent it had the reading
before him, and a shaft that is truly worn was sent a narrow hub.

References
----------
.. [1] G. E. P. Box, G. C. Tiao, A Bayesian approach to some outlier problems, Biometrika 55 (1968) 119-129.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from wearstats.domain.arrays import FloatArray

LEFT_OUT = 0.5
"""Chance of being wrong from which a record is left out, rather than only doubted."""

HUB_UM, LEVEL_UM, CLEARANCE_UM, AGAIN_UM = 5.0, 40.0, 25.0, 15.0
"""Usual scatter of gauged spaces about nominal, of shafts, of clearances as read, and of a shaft read again, where few
records tell of it; judgement. They count as `_STATED` records."""

_STATED = 10.0
_SOUND, _SOUND_HUB = 4, 10
"""Degrees of freedom of Student's t, by which sound records scatter: one in a good many lies far out."""
_OF_BATCH = 4
"""Gauged hubs of a batch from which its own middle is what is usual: a whole batch may be off, and gauged right."""
_WRONG_UM = 100.0
"""Scale of a Cauchy law: where wrong records lie."""
_WRONG_AMONG = (1.5, 100.0)
"""What is thought of the share of wrong records before any is seen: one and a half in a hundred (judgement)."""
_ROUNDS = 50


def usual_scatter(off_um: FloatArray, *, stated_um: float) -> float:
    """Give the scatter of most deviations, a stated one counted in; NaN is passed over."""
    there = off_um[np.isfinite(off_um)]
    own = 1.4826 * float(np.median(np.abs(there))) if there.size else 0.0
    return float(np.sqrt((_STATED * stated_um**2 + there.size * own**2) / (_STATED + there.size)))


def learn_shares(log_ratio: FloatArray) -> FloatArray:
    """Give the chance that each record is wrong, the share of wrong ones learnt from all.

    Parameters
    ----------
    log_ratio : ndarray, shape (records,)
        Log of how much likelier each is as a wrong record than as a sound one.
    """
    share = _WRONG_AMONG[0] / _WRONG_AMONG[1]
    chance = np.zeros_like(log_ratio)
    for _ in range(_ROUNDS):
        chance = 1.0 / (1.0 + np.exp(-np.clip(log_ratio + np.log(share / (1.0 - share)), -500.0, 500.0)))
        share = (_WRONG_AMONG[0] + float(chance.sum())) / (_WRONG_AMONG[1] + log_ratio.size)
    return np.asarray(chance)


def judge_hubs(off_um: FloatArray, batch: NDArray[np.object_]) -> FloatArray:
    """Give the chance that each hub's gauged space is wrong.

    Parameters
    ----------
    off_um : ndarray, shape (hubs,)
        Gauged space less nominal; NaN where not gauged.
    batch : ndarray of str, shape (hubs,)
        Its batch; missing where not known.

    Returns
    -------
    ndarray, shape (hubs,)
        0 where not gauged.
    """
    gauged = np.isfinite(off_um)
    chance = np.zeros(off_um.size)
    if gauged.any():
        found = pd.Series(off_um[gauged])
        of_batch = found.groupby(batch[gauged])
        own = of_batch.transform("median").where(of_batch.transform("count") >= _OF_BATCH)
        off = (found - own.fillna(found.median())).to_numpy()
        chance[gauged] = learn_shares(_log_t(off, 1, _WRONG_UM) - _sound(off, HUB_UM, _SOUND_HUB))
    return chance


def judge_inspections(level_um: FloatArray, space_um: FloatArray, again_um: FloatArray) -> FloatArray:
    """Give the chance that each inspection of one pattern is wrong as a whole.

    Parameters
    ----------
    level_um : ndarray, shape (inspections,)
        Middle width as read.
    space_um : ndarray, shape (inspections,)
        Nominal space of the hub that was sent on it; NaN where none was.
    again_um : ndarray, shape (inspections,)
        Middle width by the other inspections of the shaft between the same hubs; NaN where there is none.

    Returns
    -------
    ndarray, shape (inspections,)
    """
    usual = float(np.median(level_um))
    level, again = level_um - usual, again_um - usual
    ratio = _log_t(level, 1, _WRONG_UM) - _sound(level, LEVEL_UM)
    sent = np.isfinite(space_um)
    if sent.any():
        # a wrong reading has nothing to do with the hub, which then is any hub
        space, clearance = space_um[sent], space_um[sent] - level_um[sent]
        ratio[sent] += _sound(space - np.median(space), LEVEL_UM)
        ratio[sent] -= _sound(clearance - np.median(clearance), CLEARANCE_UM)
    twice = np.isfinite(again)
    scale = usual_scatter(level, stated_um=LEVEL_UM)
    ratio[twice] += _log_t(again[twice], _SOUND, scale)
    ratio[twice] -= _sound(level[twice] - again[twice], AGAIN_UM)
    return learn_shares(ratio)


def _sound(off_um: FloatArray, stated_um: float, df: int = _SOUND) -> FloatArray:
    """Log density of sound records' deviations."""
    return _log_t(off_um, df, usual_scatter(off_um, stated_um=stated_um))


def _log_t(off_um: FloatArray, df: int, scale_um: float) -> FloatArray:
    """Log density of Student's t."""
    norm = special.gammaln((df + 1) / 2) - special.gammaln(df / 2) - np.log(np.pi * df) / 2 - np.log(scale_um)
    return np.asarray(norm - (df + 1) / 2 * np.log1p((off_um / scale_um) ** 2 / df))
