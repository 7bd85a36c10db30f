"""Failures seen and expected by band of time and group, when each lies between two looks.

Time is cut into bands of equal mass of the common curve, and every end of an interval goes to the nearest cut. Given
what is known of a fitting, and the common curve, it has an expected number of failures in each band and an expected
exposure; with these the log-rank statistic is the one of exact times [1]_. Comparing with the failures of all groups in
the *same* band takes out what the common curve leaves open, by band, so that the curve need not be fitted anew.

References
----------
.. [1] J. Sun, A non-parametric test for interval-censored failure time data with application to AIDS studies, Stat.
   Med. 15 (1996) 1387-1395.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.survival.turnbull import TurnbullCurve
from wearstats.domain.arrays import FloatArray, IntArray

BANDS = 40


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """The common curve and its cuts.

    Parameters
    ----------
    months, share : ndarray, shape (points,)
        Share failed, linear between the points.
    cuts : ndarray, shape (bands + 1,)
        Share failed at the cuts, from 0.
    failures, exposure : ndarray, shape (bands + 1, bands + 1, bands)
        Expected in each band for a failure between two cuts.
    """

    months: FloatArray
    share: FloatArray
    cuts: FloatArray
    failures: FloatArray
    exposure: FloatArray

    @classmethod
    def of(cls, curve: TurnbullCurve, last_month: float) -> Bands:
        """Cut the curve up to the last month at which anything could be seen."""
        total = np.append(0.0, np.cumsum(curve.mass))
        months = np.column_stack([curve.left, curve.right]).ravel()
        share = np.column_stack([total[:-1], total[1:]]).ravel()
        finite = np.isfinite(months)
        months, share = np.append(0.0, months[finite]), np.append(0.0, share[finite])
        cuts = np.linspace(0.0, float(np.interp(last_month, months, share)), BANDS + 1)
        band, first, stop = np.arange(BANDS), np.arange(BANDS + 1)[:, None, None], np.arange(BANDS + 1)[:, None]
        mass = np.maximum(cuts[stop] - cuts[first], 1e-300)
        inside = (first <= band) & (band < stop)
        failures = np.where(inside, (cuts[1:] - cuts[:-1]) / mass, 0.0)
        sure = (band <= first) & (first < stop)
        still = np.where(inside & ~sure, (cuts[stop] - cuts[:-1]) / mass, sure.astype(float))
        return cls(months=months, share=share, cuts=cuts, failures=failures, exposure=still * _hazard(cuts))

    def failed_by(self, months: FloatArray) -> FloatArray:
        """Give the share failed by some months."""
        return np.asarray(np.interp(months, self.months, self.share), dtype=float)

    def cut_near(self, share: FloatArray) -> IntArray:
        """Give the cut nearest to a share failed."""
        return np.asarray(np.rint(np.minimum(share / self.cuts[-1], 1.0) * BANDS), dtype=np.int64)

    def between(self, left: FloatArray, right: FloatArray) -> tuple[IntArray, IntArray]:
        """Give the cuts between which failures in (left, right] lie, at least one band apart."""
        first, stop = self.cut_near(self.failed_by(left)), self.cut_near(self.failed_by(right))
        last = np.ceil(np.minimum(self.failed_by(right) / self.cuts[-1], 1.0) * BANDS).astype(np.int64)
        narrow = stop <= first
        stop = np.where(narrow, np.maximum(last, 1), stop)
        return np.where(narrow, stop - 1, first), stop

    def tight(self, last_word: FloatArray, silent_to: FloatArray, unreported: float) -> tuple[FloatArray, FloatArray]:
        """Expect failures and exposure of fittings tight at their last word and silent since, (fittings, bands)."""
        soft, first = self.cut_near(self.failed_by(last_word)), self.cut_near(self.failed_by(silent_to))
        band = np.arange(BANDS)
        cuts, mass, hazard = self.cuts, self.cuts[1:] - self.cuts[:-1], _hazard(self.cuts)
        beyond = 1.0 - cuts[first][:, None]
        known = np.maximum(unreported * (cuts[first] - cuts[soft])[:, None] + beyond, 1e-300)
        unheard = (band >= soft[:, None]) & (band < first[:, None])
        failures = np.where(unheard, unreported * mass / known, 0.0)
        still = (unreported * (cuts[first][:, None] - cuts[:-1]) + beyond) / known
        exposure = np.where(unheard, still, (band < soft[:, None]).astype(float)) * hazard
        return failures, exposure


def _hazard(cuts: FloatArray) -> FloatArray:
    return np.asarray((cuts[1:] - cuts[:-1]) / np.maximum(1.0 - cuts[:-1], 1e-300), dtype=float)
