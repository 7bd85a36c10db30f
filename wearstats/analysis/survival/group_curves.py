"""Curves still tight of several groups of fittings: Kaplan-Meier where the times are near exact, Turnbull where not.

One estimator is chosen for all groups, so that they can be laid side by side: **Kaplan-Meier** at the middle of each
failure's interval, if nine failures in ten lie within about a month and next to nothing is silent; else **Turnbull's**
curve, in which silent fittings are weighed by the chance that a failure is reported unasked. The bounds are judgement.

Beside each curve stands how many were lost to each cause in the presence of the others (cumulative incidence): the
flanks, other causes, and taken off. With Kaplan-Meier it is the Aalen-Johansen estimate, with Turnbull's curves the
same made up of each cause's own curve (`wearstats.analysis.survival.competing_causes`), ends for another cause having a
chance of an unasked report of their own.

A group of fewer than five fittings has no curve; it has the exact interval of those whose state is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Literal

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.two_by_two import clopper_pearson, upper_bound
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.survival.cluster_bootstrap import Replicates, draw_replicates, weigh_replicates
from wearstats.analysis.survival.competing_causes import CAUSES, end_histories, incidence_of_risks, no_incidence
from wearstats.analysis.survival.cumulative_incidence import fit_incidence
from wearstats.analysis.survival.group_risks import fit_groups
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier, numbers_at_risk
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories, fit_silence
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.domain.frames import columns

BANDS = 3

STEP_UM = 5.0
"""Bounds of the bands are whole steps, so that they can be said and remembered; judgement."""

Estimator = Literal["kaplan-meier", "turnbull"]

FEW_FITTINGS = 5
NEAR_EXACT_MONTHS = 1.05
_NEAR_EXACT_SHARE = 0.9
_SILENT_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GroupCurve:
    """One group's curve.

    Parameters
    ----------
    group : str
        Its name.
    fittings, shafts, followed, failures : int
        How many ran, on how many shafts, of how many there was any news, how many worked loose on the flanks.
    hub_months, followed_to : float
        Months under observation, and the month of the last word on any.
    risk : Estimate
        Chance of having worked loose by the horizon.
    curve : DataFrame
        ``months``, ``still_tight``, ``low``, ``high`` (0 to 1; the value holds from its month on); no row for a group
        of fewer than `FEW_FITTINGS`.
    at_risk : DataFrame
        ``months``, ``at_risk``: fittings under observation.
    incidence : DataFrame
        ``cause`` (of `CAUSES`), ``months``, ``share``, ``low``, ``high``; no row for a group of few.
    lost : dict of str to int
        Fittings lost to each cause.
    said : Remark or None
        What can be said of a group that is small or has no failure.
    """

    group: str
    fittings: int
    shafts: int
    followed: int
    failures: int
    hub_months: float
    followed_to: float
    risk: Estimate
    curve: Annotated[pd.DataFrame, columns(number="months still_tight low high")]
    at_risk: Annotated[pd.DataFrame, columns(number="months", whole="at_risk")]
    incidence: Annotated[pd.DataFrame, columns(text="cause", number="months share low high")]
    lost: dict[str, int]
    said: Remark | None


class GroupCurveFitter:
    """Everything that all groups have in common: the estimator, the chances of a report, the shafts drawn anew."""

    def __init__(
        self, ran: pd.DataFrame, *, months: FloatArray, horizon_months: float, rng: np.random.Generator
    ) -> None:
        """Take the fittings that ran (`Histories.ran`), at least one, and the months at which curves are told.

        Parameters
        ----------
        ran : DataFrame
            Histories of the fittings that ran.
        months : ndarray, shape (months,)
            Ascending from 0, the horizon among them.
        horizon_months : float
            Month of the risk that is told.
        rng : Generator
            For drawing shafts anew.
        """
        self.ran = ran
        self.months = months
        self.horizon_months = horizon_months
        self.told = SilentHistories.from_frame(ran)
        self.silence = fit_silence(self.told)
        self.estimator, self.why = choose_estimator(self.told)
        others = [outcome for outcome in CAUSES.values() if outcome != "failed"]
        self.ends = {cause: end_histories(ran, [CAUSES[cause]]) for cause in CAUSES if CAUSES[cause] in others}
        every_end = end_histories(ran, others)
        self.end_silence: SilenceFit = fit_silence(every_end)
        self.replicates: Replicates | None = None
        self.end_replicates: Replicates | None = None
        if self.estimator == "turnbull":
            self.replicates = draw_replicates(self.told, self.silence, rng=rng)
            self.end_replicates = weigh_replicates(every_end, self.end_silence, self.replicates.weight)
        failed = self.told.failed
        self.stop = np.where(failed, (self.told.left + np.where(failed, self.told.right, 0.0)) / 2, self.told.last_word)
        self.cause = np.select(
            [ran["outcome"].eq(outcome).to_numpy(dtype=bool) for outcome in CAUSES.values()], [1, 2, 3], default=0
        )

    def fit(self, group: str, chosen: BoolArray, *, ticks: FloatArray) -> GroupCurve:
        """Fit one group's curve; `chosen` says which fittings are in it, `ticks` where the numbers at risk are told."""
        told = self.told
        last_word, entry = told.last_word[chosen], told.entry[chosen]
        failures, fittings = int(told.failed[chosen].sum()), int(chosen.sum())
        followed_to = float(last_word.max(initial=0.0))
        if fittings < FEW_FITTINGS:
            risk, curve, incidence = self._few(chosen), _no_curve(), no_incidence()
        elif self.estimator == "turnbull":
            risk, curve, incidence = self._turnbull(group, chosen)
        else:
            risk, curve, incidence = self._kaplan_meier(chosen, followed_to)
        # at risk until the middle of its interval, as the Kaplan-Meier curve has it; Turnbull's curve knows no such
        # number, and readers count hubs
        at_risk = numbers_at_risk(self.stop[chosen], ticks, start=entry)
        return GroupCurve(
            group=group,
            fittings=fittings,
            shafts=int(np.unique(told.shaft[chosen]).size),
            followed=int(np.sum(last_word > entry)),
            failures=failures,
            hub_months=float(np.sum(self.stop[chosen] - entry)),
            followed_to=followed_to,
            risk=risk,
            curve=curve,
            at_risk=pd.DataFrame({"months": ticks, "at_risk": at_risk.astype(np.int64)}),
            incidence=incidence,
            lost={cause: int(np.sum(self.cause[chosen] == number + 1)) for number, cause in enumerate(CAUSES)},
            said=self._said(fittings, failures, risk),
        )

    def _turnbull(self, group: str, chosen: BoolArray) -> tuple[Estimate, pd.DataFrame, pd.DataFrame]:
        assert self.replicates is not None
        assert self.end_replicates is not None
        only = {group: chosen}
        flanks = fit_groups(self.told, only, self.silence, self.replicates, months=self.months)[group]
        others = [
            fit_groups(ends, only, self.end_silence, self.end_replicates, months=self.months)[group]
            for ends in self.ends.values()
        ]
        incidence = incidence_of_risks([flanks, *others])
        return flanks.risk(self.horizon_months), flanks.curve_frame().drop(columns="group"), incidence

    def _kaplan_meier(self, chosen: BoolArray, followed_to: float) -> tuple[Estimate, pd.DataFrame, pd.DataFrame]:
        told = self.told
        seen = chosen & ((told.entry <= 0) | (self.stop > told.entry))
        if not seen.any():
            return no_estimate(remark(SurvivalRemark.NO_NEWS)), _no_curve(), no_incidence()
        stop, start, failed = self.stop[seen], told.entry[seen], told.failed[seen]
        fitted = fit_kaplan_meier(stop, failed, start=start, cluster=told.shaft[seen])
        through = (told.entry <= 0) & chosen
        curve = fitted.to_frame()
        if not failed.any():
            steps = self.months[self.months <= followed_to]
            bound = [_bound(int(np.sum(self.stop[through] >= month))) for month in steps]
            low = np.where(steps <= 0, 1.0, 1.0 - np.array(bound))
            curve = pd.DataFrame({"months": steps, "still_tight": 1.0, "low": low, "high": 1.0})
        else:
            end = curve.iloc[[-1]].assign(months=followed_to)
            curve = pd.concat([curve, end], ignore_index=True) if followed_to > curve["months"].iloc[-1] else curve
        incidence = fit_incidence(stop, self.cause[seen], start=start)
        frames = [incidence[n + 1].to_frame().assign(cause=c) for n, c in enumerate(CAUSES) if n + 1 in incidence]
        columns = ["cause", "months", "share", "low", "high"]
        table = pd.concat(frames, ignore_index=True)[columns] if frames else no_incidence()
        return self._kaplan_meier_risk(curve, through, followed_to), curve, table

    def _kaplan_meier_risk(self, curve: pd.DataFrame, through: BoolArray, followed_to: float) -> Estimate:
        if self.horizon_months > followed_to:
            why = remark(SurvivalRemark.NOT_FOLLOWED, followed_to_months=followed_to)
            return Estimate(value=None, method=why, status="beyond-data")
        at = curve[curve["months"] <= self.horizon_months].iloc[-1]
        if at["still_tight"] >= 1.0:
            return upper_bound(0, max(int(np.sum(self.stop[through] >= self.horizon_months)), 1))
        return Estimate(
            value=1.0 - float(at["still_tight"]),
            low=1.0 - float(at["high"]),
            high=1.0 - float(at["low"]),
            method=remark(SurvivalRemark.KAPLAN_MEIER),
        )

    def _few(self, chosen: BoolArray) -> Estimate:
        """Give the exact interval of the few whose state at the horizon is known."""
        told = self.told
        failed = told.failed & chosen & (self.stop <= self.horizon_months)
        tight = chosen & (np.where(told.failed, self.stop, told.last_word) > self.horizon_months)
        known = int(failed.sum() + tight.sum())
        if known == 0:
            return no_estimate(remark(SurvivalRemark.FEW_UNKNOWN))
        found = clopper_pearson(int(failed.sum()), known)
        return Estimate(
            value=found.value,
            low=found.low,
            high=found.high,
            method=remark(SurvivalRemark.FEW_KNOWN, known=known, fittings=int(chosen.sum())),
            status="bounded",
        )

    def _said(self, fittings: int, failures: int, risk: Estimate) -> Remark | None:
        months, low, high = self.horizon_months, risk.low or 0.0, risk.high
        if fittings < FEW_FITTINGS:
            counts = {"fittings": fittings, "failures": failures}
            if high is None:
                return remark(SurvivalRemark.SAID_NOTHING_OF_FEW, **counts)
            return remark(SurvivalRemark.SAID_OF_FEW, **counts, months=months, low=low, high=high)
        if failures:
            return None
        if high is None:
            return remark(SurvivalRemark.SAID_NONE_FOLLOWED, fittings=fittings, months=months)
        return remark(SurvivalRemark.SAID_NONE_FAILED, fittings=fittings, months=months, high=high)


def choose_estimator(told: SilentHistories) -> tuple[Estimator, Remark]:
    """Choose the estimator for all groups, and say why.

    Parameters
    ----------
    told : SilentHistories
        All fittings that ran.

    Returns
    -------
    str
        ``kaplan-meier`` or ``turnbull``.
    Remark
        The reason.
    """
    widths = (told.right - told.left)[told.failed]
    wide = int(np.sum(widths > NEAR_EXACT_MONTHS))
    silent = ~np.isnan(told.silent_from)
    unheard = float(np.sum(told.left[silent] - told.silent_from[silent]))
    heard = float(np.sum(told.last_word - told.entry))
    share = unheard / (unheard + heard) if unheard > 0 else 0.0
    failures = {"failures": widths.size, "wide": wide, "near": widths.size - wide}
    code = {
        (True, True): SurvivalRemark.WIDE_AND_SILENT,
        (True, False): SurvivalRemark.WIDE,
        (False, True): SurvivalRemark.SILENT,
        (False, False): SurvivalRemark.NEAR_EXACT,
    }[wide > (1 - _NEAR_EXACT_SHARE) * widths.size, share > _SILENT_SHARE]
    why = remark(code, **failures, silent_percent=100 * share)
    return "kaplan-meier" if code == SurvivalRemark.NEAR_EXACT else "turnbull", why


def _bound(through: int) -> float:
    return float(upper_bound(0, through).high or 1.0) if through > 0 else 1.0


def _no_curve() -> pd.DataFrame:
    return pd.DataFrame({name: np.empty(0) for name in ("months", "still_tight", "low", "high")})


def band_gaps(gap_um: pd.Series[float], *, bands: int = BANDS, step_um: float = STEP_UM) -> pd.Series[str]:
    """Part gaps into bands of about as many fittings each.

    Parameters
    ----------
    gap_um : Series
        Gap left, um; NaN where nothing was known of it.
    bands : int
        How many bands at most; fewer where their bounds would fall together.
    step_um : float
        Bounds are rounded to this.

    Returns
    -------
    Series
        Categorical, in the order of the gaps: ``up to 10 µm``, ``10 to 20 µm``, ``over 20 µm``; missing where the gap
        is. A gap on a bound belongs to the band below it.
    """
    known = gap_um.dropna()
    cuts = np.quantile(known, np.arange(1, bands) / bands) if len(known) else np.empty(0)
    bounds = np.unique(np.round(cuts / step_um) * step_um)
    if len(known):
        bounds = bounds[(bounds >= known.min()) & (bounds < known.max())]
    if bounds.size == 0:
        names = ["any gap"]
    else:
        inner = [f"{low:g} to {high:g} µm" for low, high in pairwise(bounds)]
        names = [f"up to {bounds[0]:g} µm", *inner, f"over {bounds[-1]:g} µm"]
    places = np.searchsorted(bounds, gap_um.fillna(0.0), side="left")
    codes = np.where(gap_um.isna(), -1, places).astype(np.int64)
    return pd.Series(
        pd.Categorical.from_codes(codes, dtype=pd.CategoricalDtype(names, ordered=True)), index=gap_um.index
    )
