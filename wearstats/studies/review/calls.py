"""Whom to ask next how the hub is doing: safety first, then what the answer would teach."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.call_order import Lesson, call_order, lesson_of
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError
from wearstats.studies.counts.left_out import LeftOut, left_out
from wearstats.studies.forecast.figures import Figures, InUse, hubs_in_hand
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.forecast.study import ForecastStudy, study_forecast
from wearstats.studies.review.remarks import CallRemark
from wearstats.studies.review.verdict import calls_verdict
from wearstats.studies.shelf.loans import LOAN_COLUMNS, overdue_loans
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

CALLS_A_WEEK, WEEKS = 10, 52
_SLOPE = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CallsStudy:
    """Whom to ask.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    calls : DataFrame
        One row a hub in use, first to call first: ``owner`` (code; None where none is on record), ``fitting``,
        ``shaft``, ``hub``, ``batch``, ``region``, ``method``, ``gap_left_um``, ``fitted_on``, ``last_word_on``,
        ``due_on``, ``overdue_days`` (0 where not yet due), ``to_warn``, ``to_ask``, ``told``, ``why`` (a remark),
        ``risk`` (to be loose within a quarter), ``risk_low``, ``risk_high``, ``loose_now``, ``teaches`` (share that an
        answer takes off the variance of the slope of risk on gap; NaN where nothing can be said).
    in_use : InUse
        Whom to warn and whom to ask, and how many.
    slope_sd, slope_sd_after : float or None
        Doubt of the log hazard per 10 um now, and after a year of ten answered calls a week, as if all were asked now.
    why_no_law : Remark or None
        Why hubs stand in the order of their due days alone, where they do.
    sampled_shafts : int or None
        Of how many shafts, taken at random, these are the hubs; None: of all.
    left_out : LeftOut
        Records that are not among the hubs in use.
    loans : DataFrame
        Hubs to ask back: loans whose day is over, as `hub_loans` has them.
    only_to_warn : bool
        Whether only those to be warned are listed.
    """

    as_of: datetime.date
    calls: Annotated[
        pd.DataFrame,
        columns(
            text="owner fitting shaft hub batch region method",
            number="gap_left_um risk risk_low risk_high loose_now teaches",
            whole="overdue_days",
            flag="told withdrawn to_warn to_ask",
            day="fitted_on last_word_on due_on",
            any="why",
        ),
    ]
    in_use: InUse
    slope_sd: float | None
    slope_sd_after: float | None
    why_no_law: Remark | None
    sampled_shafts: int | None
    left_out: LeftOut
    loans: Annotated[pd.DataFrame, LOAN_COLUMNS]
    only_to_warn: bool = False

    def to_warn(self) -> CallsStudy:
        """Give the same list, of those to be warned alone."""
        calls = self.calls[self.calls["to_warn"]].reset_index(drop=True)
        return replace(self, calls=calls, only_to_warn=True)

    @property
    def verdict(self) -> Remark:
        """Whom to call."""
        return calls_verdict(self.figures)

    @property
    def overdue(self) -> int:
        """Hubs whose owners should have been asked by now."""
        return int((self.in_use.frame["overdue_days"] > 0).sum())

    @property
    def figures(self) -> Figures:
        """How many there are to warn and to ask."""
        return self.in_use.figures

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        ends = ["risk", "risk_low", "risk_high"]
        risks = [_risk(*row) for row in self.calls[ends].itertuples(index=False)]
        return {
            "verdict": self.verdict,
            "calls": days_written(self.calls.drop(columns=ends)).assign(risk=pd.Series(risks, dtype=object)),
            "overdue": self.overdue,
            "figures": self.figures,
            "slope_sd": self.slope_sd,
            "slope_sd_after_a_year_of_calls": self.slope_sd_after,
            "calls_a_year": CALLS_A_WEEK * WEEKS,
            "by_due_day_alone_because": self.why_no_law,
            "left_out": self.left_out,
            "loans_overdue": self.loans,
            "sampled_shafts": self.sampled_shafts,
        }


@part(*EVERYTHING, kept=True)
def study_calls(snapshot: Snapshot) -> CallsStudy:
    """Put the hubs in use in order.

    Raises
    ------
    AnalysisError
        When no hub is in use.

    Notes
    -----
    First come those to be warned, of withdrawn batches before all; then those that were warned and not heard of since,
    both by their chance to be loose within a quarter; then those overdue, by what an answer would teach of the slope of
    risk on gap; then the rest by their due day.
    """
    as_of, forecast = snapshot.known_on, study_forecast(snapshot, past=False)
    if forecast.running.empty:
        number = left_out(snapshot).contradicting
        also = f" ({number} left out that cannot be as written: wearstats store check)" if number else ""
        raise AnalysisError(f"no hub was in use on {as_of}{also}", needed="fittings on record")
    lesson = _lesson(forecast)
    in_use = hubs_in_hand(forecast)
    frame = in_use.frame.assign(teaches=_teaching(forecast, lesson))
    order = call_order(
        safety=_urgency(frame),
        limit=WARN_FROM,
        overdue=frame["overdue_days"].to_numpy(dtype=float) > 0,
        teaching=frame["teaches"].fillna(0.0).to_numpy(dtype=float),
        soonest=np.asarray((frame["due_on"] - pd.Timestamp(as_of)).dt.days, dtype=float),
    )
    frame = frame.iloc[order].reset_index(drop=True)
    frame = frame.rename(columns={f"risk_quarter{end}": f"risk{end}" for end in ("", "_low", "_high")})
    kept = [
        "owner", "shaft", "fitting", "hub", "batch", "withdrawn", "region", "method", "gap_left_um", "fitted_on",
        "last_word_on", "due_on", "overdue_days", "risk", "risk_low", "risk_high", "loose_now", "told", "to_warn",
        "to_ask", "teaches",
    ]  # fmt: skip
    told = ["risk", "overdue_days", "told", "withdrawn", "batch"]
    why = [_why(*row) for row in frame[told].itertuples(index=False)]
    sd, after = (None, None) if lesson is None else _year_of_calls(lesson)
    return CallsStudy(
        as_of=as_of,
        calls=frame[kept].assign(why=pd.Series(why, dtype=object)),
        in_use=in_use,
        slope_sd=sd,
        slope_sd_after=after,
        why_no_law=forecast.why_no_law,
        sampled_shafts=forecast.sampled_shafts,
        left_out=left_out(snapshot),
        loans=overdue_loans(snapshot),
    )


def _urgency(frame: pd.DataFrame) -> FloatArray:
    """Give the chance to be loose, raised for those to be warned and for those of withdrawn batches."""
    to_warn, withdrawn = (frame[name].to_numpy(dtype=float) for name in ("to_warn", "withdrawn"))
    risk = frame["risk_quarter"].fillna(0.0).to_numpy(dtype=float)
    return np.asarray(risk + to_warn * (1.0 + withdrawn) + WARN_FROM * withdrawn)


def _lesson(forecast: ForecastStudy) -> Lesson | None:
    chances = forecast.chances
    return None if chances is None else lesson_of(chances.fit, chances.running, data=chances.data)


def _teaching(forecast: ForecastStudy, lesson: Lesson | None) -> FloatArray:
    """Share that each hub's answer takes off the slope's variance, in the order of ``forecast.running``."""
    if lesson is None or forecast.chances is None:
        return np.full(len(forecast.running), np.nan)
    by_fitting = pd.Series(lesson.gain(_SLOPE), index=forecast.chances.hubs["fitting"])
    return np.asarray(by_fitting.reindex(forecast.running["fitting"]), dtype=float)


def _year_of_calls(lesson: Lesson) -> tuple[float, float]:
    """Give the slope's doubt now, and after a year of calls, to those first whose answers teach most."""
    gain = lesson.gain(_SLOPE)
    asked = np.zeros(gain.size)
    asked[np.argsort(-gain, kind="stable")[: CALLS_A_WEEK * WEEKS]] = 1.0
    return float(np.sqrt(lesson.covariance[_SLOPE, _SLOPE])), lesson.spread_after(asked, _SLOPE)


def _why(risk: float, late: int, told: bool, withdrawn: bool, batch: str | None) -> Remark:
    if withdrawn:
        return remark(CallRemark.WITHDRAWN, batch=batch, told=told)
    if risk >= WARN_FROM:
        return remark(CallRemark.MAY_BE_LOOSE if told else CallRemark.NOT_YET_WARNED, days=late)
    return remark(CallRemark.OVERDUE, days=late) if late > 0 else remark(CallRemark.NOT_YET_DUE)


def _risk(risk: float, low: float, high: float) -> Estimate:
    if pd.isna(risk):
        return no_estimate(remark(CallRemark.NO_RISK))
    return Estimate(value=risk, low=low, high=high, method=remark(CallRemark.RISK))
