"""The chance of having worked loose by a month, group by group, with intervals that know of shafts and of silence.

The estimate is Turnbull's (`wearstats.analysis.survival.turnbull`), silent fittings weighed by the chance that a
failure is reported unasked (`wearstats.analysis.survival.reporting`). Its spread comes from drawing shafts anew. The
interval is the score interval of a proportion on the *effective* number of fittings, share (1 - share) / variance,
never more than those of which it is told [1]_: with few failures a plain bootstrap interval is too short and may be
empty. Without any failure only an upper bound is given, exact for the fittings followed through the month.

The risk is that of a hub that stays on: fittings that end for another cause are followed until then.

References
----------
.. [1] E. L. Korn, B. I. Graubard, Confidence intervals for proportions with small expected number of positive counts
   estimated from survey data, Survey Methodology 24 (1998) 193-201 (the effective number; there with exact limits).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.two_by_two import hybrid_difference, upper_bound, wilson
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.cluster_bootstrap import Replicates, resample_curve
from wearstats.analysis.survival.kaplan_meier import numbers_at_risk
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories
from wearstats.analysis.survival.turnbull import TurnbullCurve, cell_fractions, fit_cells
from wearstats.domain.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupRisk:
    """One group of fittings.

    Parameters
    ----------
    group : str
        Its name.
    fittings, followed, failures : int
        How many ran, of how many there was any news, how many worked loose on the flanks.
    hub_months : float
        Months under observation, to the last word or the middle of the failure's interval.
    followed_to : float
        Month of the last word on any of them.
    months : ndarray, shape (months,)
        Where the curve is given.
    share : ndarray, shape (months,)
        Share that has worked loose by then.
    spread : ndarray, shape (replicates, months)
        The same in every replicate.
    share_if_silence_is_good : ndarray or None, shape (months,)
        The same if every failure were reported unasked; given where the data do not tell that chance.
    followed_through : ndarray, shape (months,)
        Fittings known from the start and followed through the month without failing.
    told : ndarray, shape (months,)
        Fittings of which it is told whether they failed by then; a silent one counts by the chance of a report.
    at_risk : ndarray, shape (months,)
        Fittings under observation.
    """

    group: str
    fittings: int
    followed: int
    failures: int
    hub_months: float
    followed_to: float
    months: FloatArray
    share: FloatArray
    spread: FloatArray
    share_if_silence_is_good: FloatArray | None
    followed_through: NDArray[np.int64]
    told: FloatArray
    at_risk: FloatArray

    def risk(self, months: float, *, level: float = 0.95) -> Estimate:
        """Give the chance of having worked loose by a month, one of `months`."""
        if self.fittings == 0:
            return no_estimate(remark(SurvivalRemark.NO_GROUP))
        if months > self.followed_to:
            why = remark(SurvivalRemark.NOT_FOLLOWED, followed_to_months=self.followed_to)
            return Estimate(value=None, level=level, method=why, status="beyond-data")
        at = self.index_of(months)
        share = float(self.share[at])
        if share <= 1e-9:
            return self._no_failures(int(self.followed_through[at]), months, level)
        effective = self.effective_number(months)
        found = wilson(share * effective, effective, level=level)
        if self.share_if_silence_is_good is None:
            how = remark(SurvivalRemark.INTERVALS)
            return Estimate(value=share, low=found.low, high=found.high, level=level, method=how)
        least = wilson(float(self.share_if_silence_is_good[at]) * effective, effective, level=level)
        return Estimate(
            value=share,
            low=least.low,
            high=found.high,
            level=level,
            method=remark(SurvivalRemark.INTERVALS_BOUNDED),
            status="assumed",
        )

    def effective_number(self, months: float) -> float:
        """Give the number of independent, fully followed fittings that would tell the risk as well."""
        at = self.index_of(months)
        share = float(self.share[at])
        variance = float(np.nanvar(self.spread[:, at], ddof=1))
        most = float(self.told[at])
        return most if variance <= 0 else min(share * (1 - share) / variance, most)

    def curve_frame(self, *, level: float = 0.95) -> pd.DataFrame:
        """Give ``group``, ``months``, ``still_tight``, ``low``, ``high``, as far as the group is followed."""
        told = self.months[self.months <= self.followed_to]
        risks = [self.risk(float(month), level=level) for month in told]
        ends = np.array([(1.0 if r.high is None else r.high, r.low or 0.0) for r in risks]).reshape(-1, 2)
        at_start = told <= 0
        return pd.DataFrame(
            {
                "group": self.group,
                "months": told,
                "still_tight": 1.0 - self.share[: told.size],
                "low": np.where(at_start, 1.0, 1.0 - ends[:, 0]),
                "high": np.where(at_start, 1.0, 1.0 - ends[:, 1]),
            }
        )

    def at_risk_frame(self, months: FloatArray) -> pd.DataFrame:
        """Give ``group``, ``months``, ``at_risk`` at some of `months`."""
        index = np.searchsorted(self.months, months)
        return pd.DataFrame({"group": self.group, "months": months, "at_risk": self.at_risk[index].astype(np.int64)})

    def index_of(self, months: float) -> int:
        """Find a month among `months`; KeyError when the curve is not given there."""
        at = int(np.flatnonzero(self.months >= months)[0]) if months <= self.months[-1] else self.months.size
        if at >= self.months.size or self.months[at] != months:
            raise KeyError(f"the curve is not given at {months} months")
        return at

    def _no_failures(self, followed: int, months: float, level: float) -> Estimate:
        if followed == 0:
            why = remark(SurvivalRemark.NO_FAILURE_NOR_FOLLOWED, months=months)
            return Estimate(value=0.0, low=0.0, high=1.0, level=level, method=why, status="bounded")
        return upper_bound(0, followed, level=level)


def fit_groups(
    histories: SilentHistories,
    groups: Mapping[str, BoolArray],
    silence: SilenceFit,
    replicates: Replicates,
    *,
    months: FloatArray,
) -> dict[str, GroupRisk]:
    """Fit every group's curve.

    Parameters
    ----------
    histories : SilentHistories
        All fittings that ran.
    groups : mapping of str to ndarray of bool, shape (fittings,)
        Which fittings belong to each group; they may overlap.
    silence : SilenceFit
        The chance of an unasked report, common to all groups.
    replicates : Replicates
        Shafts drawn anew.
    months : ndarray, shape (months,)
        Where the curves are wanted, ascending.

    Returns
    -------
    dict of str to GroupRisk
    """
    return {
        name: _fit_group(name, histories, np.asarray(chosen, dtype=bool), silence, replicates, months)
        for name, chosen in groups.items()
    }


def risk_difference(first: GroupRisk, second: GroupRisk, months: float, *, level: float = 0.95) -> Estimate:
    """Give the difference of two groups' risks by a month, first minus second.

    The correlation of the two, from shafts that are in both, is taken from the replicates.
    """
    one, other = first.risk(months, level=level), second.risk(months, level=level)
    for group, risk in ((first.group, one), (second.group, other)):
        if risk.value is None:
            return no_estimate(remark(SurvivalRemark.OF_GROUP, group=group, why=risk.method))
    at = first.index_of(months)
    pair = np.stack([first.spread[:, at], second.spread[:, at]])
    pair = pair[:, np.isfinite(pair).all(axis=0)]  # a replicate may hold none of a small group
    centred = pair - pair.mean(axis=1, keepdims=True)
    norm = float(np.sqrt(np.prod(np.sum(centred**2, axis=1))))
    correlation = float(centred[0] @ centred[1]) / norm if norm > 0 else 0.0
    combined = hybrid_difference(one, other, correlation=correlation)
    statuses = {one.status, other.status}
    status = "assumed" if "assumed" in statuses else "bounded" if "bounded" in statuses else combined.status
    return Estimate(
        value=combined.value,
        low=combined.low,
        high=combined.high,
        level=level,
        method=remark(SurvivalRemark.DIFFERENCE, first=first.group, second=second.group),
        status=status,
    )


def _fit_group(
    name: str,
    histories: SilentHistories,
    chosen: BoolArray,
    silence: SilenceFit,
    replicates: Replicates,
    months: FloatArray,
) -> GroupRisk:
    last_word, entry = histories.last_word[chosen], histories.entry[chosen]
    failed = histories.failed[chosen]
    middle = np.where(failed, (histories.left[chosen] + np.where(failed, last_word, 0.0)) / 2, last_word)
    share, spread, good = _curves(histories, chosen, silence, replicates, months)
    through = (entry <= 0) & ~failed
    known_until = np.where(failed, np.inf, last_word)[:, None]
    silent_until = np.where(np.isnan(histories.silent_from[chosen]), 0.0, histories.left[chosen])[:, None]
    told = np.where(known_until >= months, 1.0, silence.chance * (silent_until >= months))
    return GroupRisk(
        group=name,
        fittings=int(chosen.sum()),
        followed=int(np.sum(last_word > entry)),
        failures=int(failed.sum()),
        hub_months=float(np.sum(middle - entry)),
        followed_to=float(last_word.max(initial=0.0)),
        months=months,
        share=share,
        spread=spread,
        share_if_silence_is_good=good,
        followed_through=np.sum(through[:, None] & (last_word[:, None] >= months), axis=0),
        told=np.maximum(told.sum(axis=0), 1.0),
        at_risk=numbers_at_risk(middle, months, start=entry),
    )


def _curves(
    histories: SilentHistories,
    chosen: BoolArray,
    silence: SilenceFit,
    replicates: Replicates,
    months: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    """Share failed at the months, the same in every replicate, and the same if silence were always good."""
    if not histories.failed[chosen].any():
        none = np.zeros(months.size)
        return none, np.zeros((len(replicates.weight), months.size)), None
    cells = histories.cells(chosen)
    weight = np.ones(int(chosen.sum()))
    curve: TurnbullCurve = fit_cells(cells, weight, unreported=1.0 - silence.chance, tolerance=1e-7)
    mass = resample_curve(cells, curve, replicates, chosen)
    fractions = cell_fractions(cells.left, cells.right, months)
    good = None
    if not silence.identified:
        good = fit_cells(cells, weight, unreported=0.0, tolerance=1e-7).share_failed(months)
    return curve.share_failed(months), mass @ fractions.T, good
