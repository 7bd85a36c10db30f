"""When each fitting would have been looked at, had it not failed: what the null of a comparison is redrawn on.

Of a fitting that did not fail the last look and the end of its records are known. Of one that failed, what would have
followed is taken from another fitting of its group that was looked at later (a hot deck, the discrete form of imputing
from the group's own distribution of censoring [1]_); from any group where its own has hardly one.

References
----------
.. [1] R. Wang, S. W. Lagakos, R. J. Gray, Testing and interval estimation for two-sample survival comparisons with
   small sample sizes and unequal censoring, Biostatistics 11 (2010) 676-692.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.histories.build import UNASKED_WITHIN_MONTHS
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.units import MEAN_MONTH_DAYS

_A_DAY = 1.0 / MEAN_MONTH_DAYS
_FEW_DONORS = 3
_NEVER = 1e6  # months: only the last look is one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Schedules:
    """Entry, looks and end of each fitting, as if it did not fail.

    Parameters
    ----------
    entry, last_look, end : ndarray, shape (fittings,)
        Months from which it is known, of the last look, and up to which an unasked report could have come.
    spacing : ndarray, shape (fittings,)
        Months between looks, counted back from the last.
    """

    entry: FloatArray
    last_look: FloatArray
    end: FloatArray
    spacing: FloatArray

    def found(self, row: IntArray, month: FloatArray, unasked: np.ndarray) -> tuple[FloatArray, FloatArray]:
        """Give the interval in which a failure would be known to lie, its end infinite where nobody learns of it.

        Parameters
        ----------
        row : ndarray of int, shape (failures,)
            Whose failure.
        month : ndarray, shape (failures,)
            When it fails.
        unasked : ndarray of bool, shape (failures,)
            Whether it is reported unasked.
        """
        last, spacing = self.last_look[row], self.spacing[row]
        looks_after = np.floor(np.maximum(last - month, 0.0) / spacing)
        coming = np.where(month <= last, last - np.where(looks_after > 0, spacing, 0.0) * looks_after, np.inf)
        before = np.where(month <= last, coming - spacing, last)
        left = np.where(unasked, np.maximum(before, month - UNASKED_WITHIN_MONTHS), before)
        return np.maximum(left, self.entry[row]), np.where(unasked, month, coming)


def find_schedules(told: SilentHistories, age: FloatArray, group: IntArray, *, rng: np.random.Generator) -> Schedules:
    """Find the schedules.

    Parameters
    ----------
    told : SilentHistories
        Of the fittings compared.
    age : ndarray, shape (fittings,)
        Months from the fitting to the end of its records, whatever became of it.
    group : ndarray of int, shape (fittings,)
        Its group, from 0.
    rng : Generator
        For what is taken from others.
    """
    failed = told.failed
    left, right = told.looked_from, told.looked_by
    last = np.where(failed, right, told.last_word)
    end = np.where(failed, np.maximum(age, last), np.maximum(told.left, last))
    # an unasked report is no look: what is known of the looks before it is only that one was within the month, or none
    close = right - left < UNASKED_WITHIN_MONTHS * (1 - 1e-9)
    floor = np.where(told.unasked, np.where(close, left, 0.0), last)
    cut_short = ~failed & (end < age - _A_DAY)
    for row in np.flatnonzero(failed):
        later = ~failed & (told.last_word >= floor[row])
        own = np.flatnonzero(later & (group == group[row]))
        donors = own if own.size >= _FEW_DONORS else np.flatnonzero(later)
        if donors.size == 0:
            last[row] = floor[row]
            continue
        donor = donors[rng.integers(donors.size)]
        last[row] = min(told.last_word[donor], end[row])
        if cut_short[donor]:
            end[row] = min(end[row], last[row] + end[donor] - told.last_word[donor])
    return Schedules(entry=told.entry, last_look=last, end=end, spacing=_spacing(told, group, rng))


def _spacing(told: SilentHistories, group: IntArray, rng: np.random.Generator) -> FloatArray:
    """Months between looks: of failures found at a look the interval, of the others that of one found in the group."""
    left, right = told.looked_from, told.looked_by
    found = told.failed & ~told.unasked
    spacing = np.where(found, np.maximum(np.where(found, right, 0.0) - left, _A_DAY), _NEVER)
    if found.any():
        for number in np.unique(group):
            own = found & (group == number)
            donors = spacing[own if own.sum() >= _FEW_DONORS else found]
            others = (group == number) & ~found
            spacing[others] = rng.choice(donors, size=int(others.sum()))
    return spacing
