"""The chance of working loose when failures come in unasked while good hubs stay silent.

If a failure is reported unasked with chance p and a good hub's owner writes nothing, then a hub without news is more
likely to be tight than one that is asked about. A history adds to the likelihood

* failed, reported unasked: ``p * mass(interval)``; found by asking: ``(1 - p) * mass(interval)``;
* ended for another cause after time t: ``mass(t, inf)``;
* silent since s until t, the end of the records of outcomes: ``(1 - p) * mass(s, t] + mass(t, inf)``, that is
  S(s)[(1 - p) + p S(t) / S(s)].

The curve is Turnbull's estimate for given p, and p the maximum of the profile. Where asking never brought a failure to
light p cannot be told from 1, and the two extremes that the data allow are shown instead.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy import special
from scipy.optimize import brentq

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.analysis.survival.turnbull import IntervalCells, TurnbullCurve, find_cells, fit_cells
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

_SMALLEST, _LARGEST = 1e-4, 1.0 - 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilentHistories:
    """The histories of fittings that ran, as the likelihood takes them.

    Parameters
    ----------
    left, right : ndarray, shape (fittings,)
        Months after which and by which it failed; `right` infinite if it did not, `left` then the month up to which it
        is followed (for a silent one: that on which the records of outcomes end).
    entry : ndarray, shape (fittings,)
        Month from which it is known.
    silent_from : ndarray, shape (fittings,)
        Month of the last word of a silent one, NaN for the others.
    last_word : ndarray, shape (fittings,)
        Month up to which anything is known of it.
    failed, unasked, asked : ndarray of bool, shape (fittings,)
        Whether it failed, and whether that was reported unasked or found by asking (neither: not recorded).
    shaft : ndarray of int, shape (fittings,)
        Shaft, numbered from 0.
    looked_from, looked_by : ndarray, shape (fittings,), optional
        Of failures the months on which it was last seen tight and on which it was heard of; `left` and `right` where
        nothing else is said.
    """

    left: FloatArray
    right: FloatArray
    entry: FloatArray
    silent_from: FloatArray
    last_word: FloatArray
    failed: BoolArray
    unasked: BoolArray
    asked: BoolArray
    shaft: IntArray
    looked_from: FloatArray = field(default_factory=lambda: np.empty(0))
    looked_by: FloatArray = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        for name, plain in (("looked_from", self.left), ("looked_by", self.right)):
            if not getattr(self, name).size:
                object.__setattr__(self, name, plain)

    @classmethod
    def from_frame(cls, ran: pd.DataFrame, *, with_late_news: bool = False) -> SilentHistories:
        """Take the rows that `wearstats.analysis.histories.build.Histories.ran` gives.

        Parameters
        ----------
        ran : DataFrame
            The fittings.
        with_late_news : bool
            Whether what came in after the records' end counts too: it is known of a hub, but nothing is learnt from
            it, since bad news comes in early and good news does not.
        """
        failed = ran["outcome"].eq("failed").to_numpy(dtype=bool)
        since, until, observed = (
            ran[f"{name}_months"].to_numpy(dtype=float) for name in ("silent_since", "silent_until", "observed")
        )
        if "cut_since_months" in ran and not with_late_news:
            cut = ran["cut_since_months"].notna().to_numpy(dtype=bool)
            failed = failed & ~cut
            since, observed = (np.where(cut, ran["cut_since_months"], months) for months in (since, observed))
            until = np.where(cut, ran["cut_until_months"], until)
        silent = until > since
        left = np.where(silent, until, observed)
        right = ran["first_bad_months"].to_numpy(dtype=float)
        seen, heard = "failed_after_months", "first_bad_months"
        if "reported_months" in ran:
            seen, heard = "last_tight_months", "reported_months"
        return cls(
            left=np.where(failed, ran["failed_after_months"], left).astype(float),
            right=np.where(failed, right, np.inf),
            entry=ran["entry_months"].to_numpy(dtype=float),
            silent_from=np.where(silent, since, np.nan),
            last_word=np.where(failed, right, observed).astype(float),
            failed=failed,
            unasked=failed & ran["prompted"].eq("unasked").to_numpy(dtype=bool),
            asked=failed & ran["prompted"].eq("asked").to_numpy(dtype=bool),
            shaft=np.unique(ran["shaft"].to_numpy(dtype=str), return_inverse=True)[1].astype(np.int64),
            looked_from=np.where(failed, ran[seen], left).astype(float),
            looked_by=np.where(failed, ran[heard], np.inf).astype(float),
        )

    def __len__(self) -> int:
        """How many fittings."""
        return int(self.left.size)

    def take(self, chosen: IntArray | BoolArray) -> SilentHistories:
        """Give some of them, by their rows or by a mask."""
        return SilentHistories(**{name: getattr(self, name)[chosen] for name in self.__slots__})

    def counts(self) -> dict[str, float]:
        """Count ``fittings``, those ``followed``, ``failures``, and ``hub_months`` to the last word or the middle."""
        failed = self.failed
        middle = np.where(failed, (self.left + np.where(failed, self.last_word, 0.0)) / 2, self.last_word)
        return {
            "fittings": len(self),
            "followed": int(np.sum(self.last_word > self.entry)),
            "failures": int(failed.sum()),
            "hub_months": float(np.sum(middle - self.entry)),
        }

    def cells(self, chosen: BoolArray | None = None) -> IntervalCells:
        """Find the cells of some of the fittings, or of all."""
        pick = np.ones(len(self), dtype=bool) if chosen is None else chosen
        return find_cells(self.left[pick], self.right[pick], entry=self.entry[pick], silent_from=self.silent_from[pick])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SilenceFit:
    """The curve of all fittings, and the chance that a failure is reported unasked.

    Parameters
    ----------
    curve : TurnbullCurve
        Time to working loose, all fittings together.
    reported_unasked : Estimate
        Maximum likelihood with its profile interval. Where no failure was found by asking it could be 1, whatever it
        is: status ``assumed``, its value then the low end, the side that makes the risk larger.
    """

    curve: TurnbullCurve
    reported_unasked: Estimate

    @property
    def chance(self) -> float:
        """The chance used for the curve, 0 to 1."""
        return float(self.reported_unasked.value or 0.0)

    @property
    def identified(self) -> bool:
        """Whether the data tell the chance."""
        return self.reported_unasked.status == "ok"


def fit_silence(histories: SilentHistories, *, level: float = 0.95) -> SilenceFit:
    """Fit curve and chance together.

    Parameters
    ----------
    histories : SilentHistories
        All fittings that ran.
    level : float
        Coverage of the interval of the chance.

    Returns
    -------
    SilenceFit

    Raises
    ------
    AnalysisError
        Without fittings.
    """
    profile = _Profile(histories)
    reported, found = profile.reported, profile.found
    if reported + found == 0:
        chance = no_estimate(remark(SurvivalRemark.NO_REPORT))
        return SilenceFit(curve=profile.curve(0.0), reported_unasked=chance)
    best = profile.maximise()
    half_width = float(special.chdtri(1, 1 - level)) / 2
    target = profile.value(best) - half_width

    def above(chance: float) -> float:
        return profile.value(chance) - target

    # ends where the profile has fallen by half a chi-square: with no failure found by asking it rises up to 1, where no
    # curvature gives a standard error
    low = 0.0 if above(_SMALLEST) >= 0 else float(brentq(above, _SMALLEST, best, xtol=1e-3))
    if found == 0:
        chance = Estimate(
            value=low,
            low=low,
            high=1.0,
            level=level,
            method=remark(SurvivalRemark.REPORT_NOT_TOLD),
            status="assumed",
        )
        return SilenceFit(curve=profile.curve(low), reported_unasked=chance)
    high = 1.0 if above(_LARGEST) >= 0 else float(brentq(above, best, _LARGEST, xtol=1e-3))
    chance = Estimate(
        value=best if best > _SMALLEST else 0.0,
        low=low,
        high=high,
        level=level,
        method=remark(SurvivalRemark.REPORT_PROFILE, reported=int(reported), found=int(found)),
    )
    return SilenceFit(curve=profile.curve(best), reported_unasked=chance)


class _Profile:
    """The likelihood as a function of the chance, the curve fitted anew for each; masses are kept as a warm start."""

    def __init__(self, histories: SilentHistories) -> None:
        self.cells = histories.cells()
        self.weight = np.ones(len(histories))
        self.reported = float(histories.unasked.sum())
        self.found = float(histories.asked.sum())
        self._mass: FloatArray | None = None

    def curve(self, chance: float) -> TurnbullCurve:
        start = None
        if self._mass is not None:  # a cell at zero could not be left by the climbing step alone
            start = 0.99 * self._mass + 0.01 / self._mass.size
        curve = fit_cells(self.cells, self.weight, unreported=1.0 - chance, tolerance=1e-5, start=start)
        self._mass = curve.mass
        return curve

    def value(self, chance: float) -> float:
        likelihood = self.curve(chance).log_likelihood
        return likelihood + self.reported * float(np.log(chance)) + self.found * float(np.log1p(-chance))

    def maximise(self) -> float:
        if self.reported == 0:
            return _SMALLEST

        def slope(chance: float) -> float:
            """Change of the chance in one round of expectation and maximisation; zero at the maximum."""
            total = np.append(0.0, np.cumsum(self.curve(chance).mass))
            cells = self.cells
            missed = (1.0 - chance) * (total[cells.first] - total[cells.soft_first])
            share = missed / np.maximum(missed + 1.0 - total[cells.first], 1e-300)
            return self.reported / (self.reported + self.found + float(share.sum())) - chance

        if slope(_LARGEST) >= 0:
            return _LARGEST
        return float(brentq(slope, _SMALLEST, _LARGEST, xtol=1e-5)) if slope(_SMALLEST) > 0 else _SMALLEST
