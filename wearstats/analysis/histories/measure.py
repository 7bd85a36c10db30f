"""Days into months since the fitting: when each was last tight, between when it failed, and what became of it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.histories.delays import ReportDelay, learn_delay
from wearstats.analysis.histories.matching import earlier, later
from wearstats.domain.units import MEAN_MONTH_DAYS

_HALF_DAY = 0.5 / MEAN_MONTH_DAYS


def never_ran(rows: pd.DataFrame) -> pd.Series[bool]:
    """Say which came back as having never run, with no word of it to the contrary."""
    return rows["end_kind"].eq("never-ran") & rows["last_tight"].isna() & rows["bad"].isna()


def measure(rows: pd.DataFrame, unasked_within_months: float) -> tuple[pd.DataFrame, ReportDelay]:
    """Turn days into months since the fitting, and ends into outcomes; give how late unasked reports come, too."""

    def months(days: pd.Series[float]) -> pd.Series[float]:
        return (days - rows["origin_day"]) / MEAN_MONTH_DAYS

    entry = months(rows["known_from_day"]).clip(lower=0.0).fillna(0.0)
    last_tight = later(months(rows["last_tight"]), entry)
    failed = rows["bad"].notna()
    following = months(rows["next_day"])
    reported = months(rows["bad"])
    # a failure that was heard of after the next hub was on came before that
    bad = earlier(reported, following.where(following > last_tight))
    bad = later(bad, last_tight + _HALF_DAY).where(failed)
    unasked = rows["prompted"].eq("unasked")
    told = months(rows["failed_day"])
    told = told.where((told >= last_tight) & (told <= bad + _HALF_DAY))
    heard_in_time = failed & (reported <= months(rows["recorded_day"]))
    delay = learn_delay(
        np.asarray((reported - told)[heard_in_time], dtype=np.float64),
        np.asarray((months(rows["recorded_day"]) - told)[heard_in_time], dtype=np.float64),
        unasked[heard_in_time].to_numpy(dtype=bool),
        within_months=unasked_within_months,
        half_day=_HALF_DAY,
    )
    after, bad = _when_failed(last_tight, bad, told, unasked, delay)
    ended = rows["end"].notna() & ~failed
    never = rows["went_on"].eq("would-not") | never_ran(rows)
    silent = ~failed & ~ended & ~never
    end = later(months(rows["end"]), last_tight)
    end = end.where(unasked, (last_tight + end) / 2)
    observed = last_tight.where(~ended, end).where(~failed, (after + bad) / 2)
    until = earlier(months(rows["recorded_day"]), following)
    late = rows["news_late"] & ~never
    cut_since = later(months(rows["tight_by_then"]), entry)
    outcome = np.select(
        [
            rows["went_on"].eq("would-not") | (never & rows["reason"].eq("would-not-go-on")),
            never,
            failed,
            ended & rows["end_kind"].eq("other"),
            ended,
            rows["last_tight"].notna(),
        ],
        ["would-not", "returned-unfitted", "failed", "other-cause", "removed", "running"],
        default="no-word",
    )
    measured = rows.assign(
        kind=np.where(rows["unrecorded"], "dispatch", "fitting"),
        age_months=-rows["origin_day"] / MEAN_MONTH_DAYS,
        recorded_months=months(rows["recorded_day"]),
        entry_months=entry,
        last_tight_months=last_tight,
        failed_after_months=after,
        first_bad_months=bad.where(failed, np.inf),
        reported_months=reported,
        day_told=told.notna(),
        observed_months=observed,
        silent_since_months=last_tight.where(silent),
        silent_until_months=later(until, last_tight).where(silent),
        cut_since_months=cut_since.where(late),
        cut_until_months=later(until, cut_since).where(late),
        superseded=silent & (following < -rows["origin_day"] / MEAN_MONTH_DAYS),
        outcome=outcome,
        method_done=rows["method"],
        method_sent=rows["sent_as"].fillna(rows["method"]),
        method_sent_known=rows["sent_as"].notna(),
    )
    return measured, delay


def _when_failed(
    last_tight: pd.Series[float], bad: pd.Series[float], told: pd.Series[float], unasked: pd.Series[bool],
    delay: ReportDelay,
) -> tuple[pd.Series[float], pd.Series[float]]:  # fmt: skip
    """Give the months between which each failed: the day that is told, else by how late reports come."""
    low, high = delay.before_report
    guessed = unasked & told.isna()
    after = last_tight.mask(guessed, later(last_tight, bad - high)).mask(
        told.notna(), later(last_tight, told - _HALF_DAY)
    )
    by = bad.mask(guessed, bad - low).mask(told.notna(), told + _HALF_DAY)
    # seen tight since: it came loose sooner before its report than others do
    by = by.mask(by < after + _HALF_DAY, later(bad, after + _HALF_DAY))
    return after.where(bad.notna()), by.where(bad.notna())


def with_other_delay(ran: pd.DataFrame, taken: ReportDelay, before_report: tuple[float, float]) -> pd.DataFrame:
    """Give the same histories as if owners who did not tell the day had written after another time.

    Parameters
    ----------
    ran : DataFrame
        Rows of `wearstats.analysis.histories.build.Histories.frame`.
    taken : ReportDelay
        What was taken there.
    before_report : tuple of float
        Months before the report between which those hubs came loose instead.
    """
    guessed = ran["outcome"].eq("failed") & ran["prompted"].eq("unasked") & ~ran["day_told"].eq(True)
    # another hub may have been on the shaft before the report
    bad = earlier(ran["reported_months"], ran["first_bad_months"] + taken.before_report[0])
    after = later(ran["last_tight_months"], bad - before_report[1])
    by = later(bad - before_report[0], after + 2 * _HALF_DAY)
    return ran.assign(
        failed_after_months=ran["failed_after_months"].mask(guessed, after),
        first_bad_months=ran["first_bad_months"].mask(guessed, by),
    )


def unfitted_histories(unfitted: pd.DataFrame, back: pd.DataFrame) -> pd.DataFrame:
    """Give the histories of hubs sent, of which no fitting is recorded: sent back, would not go on, or no word."""
    reason = unfitted["row"].map(back.dropna(subset=["of_dispatch"]).groupby("of_dispatch")["reason"].first())
    waiting = -unfitted["sent_day"] / MEAN_MONTH_DAYS
    return unfitted.assign(
        kind="dispatch",
        reason=reason,
        outcome=np.select(
            [reason.eq("would-not-go-on"), reason.notna()], ["would-not", "returned-unfitted"], default="no-word"
        ),
        method_sent=unfitted["sent_as"],
        method_done=unfitted["sent_as"],
        method_sent_known=unfitted["sent_as"].notna(),
        origin_from_day=unfitted["sent_day"],
        silent_since_months=(0.0 * waiting).where(reason.isna()),
        silent_until_months=waiting.where(reason.isna()),
        first_bad_months=np.inf,
        asked_in_vain=0,
        superseded=False,
        day_told=False,
    )
