"""What is on record of answers: which hub of whom was asked about, since when, and when an answer came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

ROUND_LEAST, ROUND_SHARE = 4, 0.10
"""On the day of a round answers come of so many hubs at least, and of this share of those in use; judgement."""

ROUNDS_HOLD = 0.6
"""Share of the answers that rounds must hold for the shop to be taken to ask in rounds; judgement."""

_APART_MONTHS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnswerRecords:
    """Hubs in use and the answers had when asking; months are counted from the day asked about, before it negative.

    Parameters
    ----------
    owner : ndarray of int, shape (hubs,)
        Whose hub it is, from 0: what owners do not have in common is looked for among them.
    start, stop : ndarray, shape (hubs,)
        From when it was in use, and until when, or until the records of outcomes end.
    hub : ndarray of int, shape (answers,)
        Of which hub each answer is.
    month : ndarray, shape (answers,)
        When it came, after `start` and no later than `stop`.
    """

    owner: IntArray
    start: FloatArray
    stop: FloatArray
    hub: IntArray
    month: FloatArray

    @property
    def owners(self) -> int:
        """How many owners."""
        return int(self.owner.max(initial=-1)) + 1

    def waits(self) -> tuple[IntArray, FloatArray, BoolArray]:
        """Give every wait for an answer: of which hub, how many months, and whether an answer ended it."""
        hubs = np.arange(self.start.size)
        hub = np.concatenate([self.hub, hubs])
        end = np.concatenate([self.month, self.stop])
        answered = np.append(np.ones(self.hub.size, dtype=bool), np.zeros(hubs.size, dtype=bool))
        order = np.lexsort((~answered, end, hub))
        hub, end, answered = hub[order], end[order], answered[order]
        first = np.append(True, hub[1:] != hub[:-1])
        begin = np.where(first, self.start[hub], np.append(0.0, end[:-1]))
        return hub.astype(np.int64), np.maximum(end - begin, 0.0), answered

    def since(self) -> FloatArray:
        """Months since each hub's last answer, or since it went into use, at its `stop`; shape (hubs,)."""
        last = self.start.copy()
        np.maximum.at(last, self.hub, self.month)
        return np.asarray(self.stop - last)

    def rounds(self) -> FloatArray | None:
        """Give the months of common rounds; None where answers do not come mostly on a few common days."""
        day, at = np.unique(np.round(self.month, 2), return_inverse=True)
        heard = np.bincount(at, minlength=day.size)
        in_use = np.searchsorted(np.sort(self.start), day, side="right") - np.searchsorted(np.sort(self.stop), day)
        full = heard >= np.maximum(ROUND_LEAST, ROUND_SHARE * in_use)
        if full.sum() < 2 or heard[full].sum() < ROUNDS_HOLD * self.month.size:
            return None
        common = day[full]
        return np.asarray(common[np.append(True, np.diff(common) > _APART_MONTHS)])
