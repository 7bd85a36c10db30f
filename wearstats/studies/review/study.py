"""The quarterly review of returns: what came back, whether that is more than chance, what is to come, what to do."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.rates.poisson_rates import compare_rates, predicted_count
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.quarters import Quarter, parse_quarter
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.errors import AnalysisError, UsageError
from wearstats.studies.counts.advice import AdviceJudged
from wearstats.studies.counts.all_hubs import quarter_on_record
from wearstats.studies.counts.batches import BatchReview
from wearstats.studies.counts.left_out import LeftOut, left_out
from wearstats.studies.counts.quarter import BEFORE_QUARTERS, QuarterCounts
from wearstats.studies.counts.returns import ReturnsStudy, study_returns
from wearstats.studies.counts.time_between_failures import FailureWaits
from wearstats.studies.forecast.figures import InUse, hubs_in_hand
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.forecast.study import ForecastStudy, study_forecast
from wearstats.studies.inputs.coverage import QUIET_DAYS, outcomes_end, record_end
from wearstats.studies.inputs.sampling import require_room, shaft_sample
from wearstats.studies.loosening.fit_from_store import known_law
from wearstats.studies.review.actions import Action, actions_of
from wearstats.studies.review.remarks import RiskRemark
from wearstats.studies.review.stock import ask_stock, begin_stock, make_not_told
from wearstats.studies.review.verdict import expected_in, verdict_of
from wearstats.studies.shelf.loans import overdue_loans
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

_WIDE_SHARE = 0.75

_SILENT_MONTHS = 6.0
_SINCE = ("fitted_on", "last_word_on")

_BYTES_OF_SHAFT = 1_500
"""Held of every shaft of a large fleet (`tests/benchmarks/at_once.md`)."""

AT_RISK = 12
"""How many hubs are listed as most at risk."""
_YEAR_QUARTERS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReviewStudy:
    """The review of one quarter.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    quarter : Quarter
        Which.
    pattern : str or None
        Restriction to one pattern.
    over : bool
        Whether the quarter was over on that day.
    verdict : Remark
        How it stands against what was expected.
    seen : int
        The failures that this judges.
    expected : Estimate or None
        How many of these were expected; None where nothing tells.
    counts : QuarterCounts
        Hubs in use and their failures.
    returns : dict of str to int
        Hubs that came back in the quarter, by reason, commonest first.
    returns_before : dict of str to int
        The same in the four quarters before.
    sent, sent_before : int
        Hubs sent in the quarter, and in those before.
    returns_change_p : float
        Whether returns per hub sent changed by more than chance.
    returns_next : Estimate
        Returns of the next quarter, predicted from those of this one and up to four before; prediction interval at
        0.90.
    returns_quarters : int
        From how many.
    forecast : ForecastStudy or None
        What is predicted of the hubs in use.
    in_use : InUse or None
        Whom to warn and whom to ask, and how many; None where no hub ever ran.
    waits : FailureWaits or None
        Use between failures; None where there are too few.
    batches : BatchReview
        Batches that run wide or fail more often.
    advice : AdviceJudged
        Advice and what became of it.
    actions : tuple of Action
        What to do, most urgent first.
    make_not_told : dict of str to Remark
        Why it cannot be told what to make, by pattern; under an empty name where no pattern could be asked after.
    left_out : LeftOut
        Records that are not among the hubs in use.
    """

    as_of: datetime.date
    quarter: Quarter
    pattern: str | None
    over: bool
    verdict: Remark
    seen: int
    expected: Estimate | None
    counts: QuarterCounts
    returns: dict[str, int]
    returns_before: dict[str, int]
    sent: int
    sent_before: int
    returns_change_p: float
    returns_next: Estimate
    returns_quarters: int
    forecast: ForecastStudy | None
    in_use: InUse | None
    waits: FailureWaits | None
    batches: BatchReview
    advice: AdviceJudged
    actions: tuple[Action, ...]
    make_not_told: dict[str, Remark | str | None]
    left_out: LeftOut

    @property
    def returned(self) -> int:
        """Hubs that came back in the quarter."""
        return sum(self.returns.values())

    def at_risk_frame(self) -> pd.DataFrame:
        """Give the `AT_RISK` hubs most likely to be loose within a quarter: `ForecastStudy.running` and ``reason``."""
        if self.forecast is None:
            return pd.DataFrame()
        frame = self.forecast.running
        frame = frame.assign(reason=reasons(frame, as_of=self.as_of))
        return frame[frame["risk_quarter"].notna()].head(AT_RISK)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        forecast = {} if self.forecast is None else self.forecast.to_dict()
        return {
            "quarter": str(self.quarter),
            "pattern": self.pattern,
            "over": self.over,
            "verdict": self.verdict,
            "seen": self.seen,
            "expected": self.expected,
            "figures": None if self.in_use is None else self.in_use.figures,
            "actions": self.actions,
            "make_not_told_because": self.make_not_told,
            **self.counts.to_dict(),
            "returns": self.returns,
            "returned": self.returned,
            "returns_before": self.returns_before,
            "sent": self.sent,
            "sent_before": self.sent_before,
            "returns_change_p": self.returns_change_p,
            "returns_next": self.returns_next,
            "returns_next_from_quarters": self.returns_quarters,
            "forecast_next": None,
            "earlier_forecasts": [],
            "signals": [],
            **forecast,
            "at_risk": days_written(self.at_risk_frame()),
            "to_warn": [] if self.in_use is None else days_written(self.in_use.to_warn),
            "waits_between_failures": self.waits,
            "batches": self.batches,
            "advice_judged": self.advice,
            "left_out": self.left_out,
        }


def last_finished(as_of: datetime.date) -> Quarter:
    """Give the last quarter that was over on a day."""
    quarter = Quarter.of(as_of)
    return quarter if quarter.last_day <= as_of else quarter.shifted(-1)


@part(*EVERYTHING, kept=True, advice=True)
def study_review(
    snapshot: Snapshot, *, quarter: Quarter | None = None, horizon_months: float = 12.0, risk_limit: float = 0.05,
    ask_all: bool = False,
) -> ReviewStudy:  # fmt: skip
    """Review a quarter.

    Parameters
    ----------
    quarter : Quarter, optional
        Which; the last that was over by default.
    horizon_months, risk_limit : float
        The chance of working loose that is accepted within that time.
    ask_all : bool
        Whether the failures to become known are predicted as if all owners were asked now and answered.

    Raises
    ------
    UsageError
        When the quarter had not begun on that day.
    AnalysisError
        When nothing was ever sent, fitted or returned, or the records end before the quarter.
    """
    as_of, pattern = snapshot.known_on, snapshot.pattern
    quarter = quarter or last_finished(as_of)
    if quarter.first_day > as_of:
        raise UsageError(
            f"--quarter: {quarter} had not begun on {as_of}; the last one over is {last_finished(as_of)}; or say a "
            "later --as-of"
        )
    ends = outcomes_end(snapshot)
    _refuse_unrecorded(quarter, ends.day if ends.surely else record_end(snapshot), as_of=as_of)
    require_room(snapshot, bytes_of_shaft=_BYTES_OF_SHAFT)
    if shaft_sample(snapshot) is not None:
        quarter_on_record.begin(snapshot, quarter)
    else:
        begin_stock(snapshot, horizon_months=horizon_months, risk_limit=risk_limit)
    returns = study_returns(snapshot)
    forecast = _predicted(snapshot, ask_all=ask_all)
    in_use = None if forecast is None else hubs_in_hand(forecast)
    now, before, sent, sent_before = _returns(returns, quarter)
    back, back_before = sum(now.values()), sum(before.values())
    returned_in = _told_quarters(returns, quarter)
    change = compare_rates(back, float(sent), back_before, float(sent_before))
    stock = ask_stock(snapshot, horizon_months=horizon_months, risk_limit=risk_limit)
    record = quarter_on_record(snapshot, quarter)
    if not record.ran and not returns.quarters:
        raise AnalysisError(
            f"nothing was sent, fitted or returned by {as_of}", needed="add dispatches, fittings, follow_ups or returns"
        )
    actions = actions_of(
        counts=record.counts, forecast=forecast, in_use=in_use, batches=record.batches, law=known_law(snapshot).law,
        horizon_months=horizon_months, risk_limit=risk_limit, stock=None if isinstance(stock, Remark) else stock,
        overdue=overdue_loans(snapshot),
    )  # fmt: skip
    over, (seen, expected) = quarter.last_day <= as_of, expected_in(record.counts, forecast)
    alarm = None if forecast is None else forecast.alarm(quarter)
    return ReviewStudy(
        left_out=left_out(snapshot),
        as_of=as_of,
        quarter=quarter,
        pattern=pattern,
        over=over,
        verdict=verdict_of(
            seen=seen,
            expected=expected,
            alarm_since=None if alarm is None else parse_quarter(alarm["since"]),
            hubs=record.counts.hubs,
            over=over,
        ),
        seen=seen,
        expected=expected,
        counts=record.counts,
        returns=now,
        returns_before=before,
        sent=sent,
        sent_before=sent_before,
        returns_change_p=change.p_value,
        returns_next=predicted_count(
            back + back_before, float(returned_in), 1.0, told="hubs that come back", level=0.90
        ),
        returns_quarters=returned_in,
        forecast=forecast,
        in_use=in_use,
        waits=record.waits,
        batches=record.batches,
        advice=record.advice,
        actions=actions,
        make_not_told=make_not_told(stock),
    )


def _refuse_unrecorded(quarter: Quarter, end: datetime.date | None, *, as_of: datetime.date) -> None:
    """Refuse a quarter of which no outcome is on record: that nothing happened in it is not known."""
    reached = min(as_of, quarter.last_day)
    if end is None or end >= quarter.first_day or (reached - end).days <= QUIET_DAYS:
        return
    raise AnalysisError(
        f"what became of hubs in {quarter} is not on record; the records of it end on {end}",
        needed="add the follow-ups and returns that came in since; where none did, say so: wearstats store add "
        f"--complete-to {reached}; or review what is on record: --quarter {last_finished(end)} --as-of {end}",
    )


def _predicted(snapshot: Snapshot, *, ask_all: bool) -> ForecastStudy | None:
    """Predict what becomes of the hubs in use; None where none ever ran."""
    try:
        return study_forecast(snapshot, ask_all=ask_all)
    except AnalysisError:
        return None


def _returns(returns: ReturnsStudy, quarter: Quarter) -> tuple[dict[str, int], dict[str, int], int, int]:
    """Give the returns of the quarter by reason, those of the quarters before, and the hubs sent."""
    names = np.array(returns.quarters, dtype=str)
    past = [str(quarter.shifted(-back)) for back in range(1, BEFORE_QUARTERS + 1)]
    in_it, in_past = names == str(quarter), np.isin(names, past)

    def by_reason(rows: np.ndarray[Any, np.dtype[np.bool_]]) -> dict[str, int]:
        total = returns.counts[rows].sum(axis=0)
        order = np.argsort(-total, kind="stable")
        return {returns.reasons[index]: int(total[index]) for index in order if total[index] > 0}

    if not names.size:
        return {}, {}, 0, 0
    return by_reason(in_it), by_reason(in_past), int(returns.sent[in_it].sum()), int(returns.sent[in_past].sum())


def _told_quarters(returns: ReturnsStudy, quarter: Quarter) -> int:
    """Count the quarters on record among this one and those before it."""
    return sum(str(quarter.shifted(-BEFORE_QUARTERS)) <= name <= str(quarter) for name in returns.quarters)


def reasons(running: pd.DataFrame, *, as_of: datetime.date) -> pd.Series[Any]:
    """Give the reason for the chance of every hub in use.

    Parameters
    ----------
    running : DataFrame
        Of `ForecastStudy.running`: ``gap_left_um``, ``fitted_on``, ``last_word_on``.
    as_of : datetime.date
        The day asked about.

    Returns
    -------
    Series of Remark
        In the order of the frame.
    """
    gap = running["gap_left_um"]
    below = 100 * (gap.rank(method="min") - 1) / max(int(gap.count()), 1)
    since = {name: (pd.Timestamp(as_of) - running[name]).dt.days / MEAN_MONTH_DAYS for name in _SINCE}
    found = [_reason(*row) for row in zip(below, *(since[name] for name in _SINCE), strict=True)]
    return pd.Series(found, index=running.index, dtype=object)


def _reason(below: float, months: float, silent: float) -> Remark:
    """Say where a gap stands among all, how long its hub runs, and, where there was no word for long, since when."""
    word = None
    if silent >= _SILENT_MONTHS:
        word = remark(RiskRemark.NEVER_HEARD) if silent >= months else remark(RiskRemark.SILENT, months=silent)
    if below >= 100 * _WIDE_SHARE:
        return remark(RiskRemark.WIDE_GAP, percent=below, months=months, word=word)
    return remark(RiskRemark.NO_WIDE_GAP if below >= 0 else RiskRemark.GAP_NOT_KNOWN, months=months, word=word)
