"""The verdict on a quarter at its edges: ends of the range, nothing expected, no hub, no failure, alarms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.monitoring.risk_adjusted_cusum import Alarm
from wearstats.analysis.monitoring.standing import Standing, standing_of
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.quarters import parse_quarter
from wearstats.report.remarks.say import say
from wearstats.studies.forecast.figures import Figures
from wearstats.studies.forecast.observed_expected import FALSE_ALARM_QUARTERS, USED
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.review.remarks import CallsVerdict, VerdictRemark
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.review.verdict import calls_verdict, expected_in, verdict_of

NINE = Estimate(value=9.0, low=4.0, high=15.0, level=0.95, method=remark(ForecastRemark.AT_THE_RATE_BEFORE))
NOTHING = no_estimate(remark(ForecastRemark.NO_GAPS))


def verdict(seen: int, *, expected: Estimate | None = NINE, since: str | None = None, over: bool = True) -> Remark:
    alarm = None if since is None else parse_quarter(since)
    return verdict_of(seen=seen, expected=expected, alarm_since=alarm, hubs=300, over=over)


@pytest.mark.parametrize(
    ("seen", "code", "words"),
    [
        (14, VerdictRemark.QUIET, "Quiet: 14 worked loose, 9 expected (4 to 15)"),
        # the ends belong to the range
        (4, VerdictRemark.QUIET, "Quiet: 4 worked loose, 9 expected (4 to 15)"),
        (15, VerdictRemark.QUIET, "Quiet: 15 worked loose, 9 expected (4 to 15)"),
        (16, VerdictRemark.WATCH_MORE, "Watch: 16 worked loose, 9 expected (4 to 15)"),
        (3, VerdictRemark.WATCH_FEWER, "Watch: only 3 worked loose, 9 expected (4 to 15)"),
        (0, VerdictRemark.WATCH_FEWER, "Watch: only none worked loose, 9 expected (4 to 15)"),
    ],
)
def test_quiet_inside_the_range_and_watch_outside(seen: int, code: VerdictRemark, words: str) -> None:
    found = verdict(seen)
    assert found.code == code
    assert say(found) == words.replace("only none", "none")


def test_the_chart_goes_before_the_range() -> None:
    for seen in (20, 9):
        found = verdict(seen, since="2026Q1")
        assert found.code == VerdictRemark.ALARM
        assert say(found) == f"Alarm: {seen} worked loose, 9 expected (4 to 15), too many since 2026Q1"


def test_without_an_expectation_nothing_is_judged() -> None:
    for expected in (None, NOTHING):
        assert verdict(3, expected=expected).code == VerdictRemark.NOTHING_TO_COMPARE
    assert standing_of(3, NOTHING) is Standing.UNKNOWN
    assert say(verdict(0, expected=None)) == "Cannot be judged: none worked loose, too little before to compare with"


def test_where_no_hub_ran_there_is_nothing_to_say() -> None:
    assert verdict_of(seen=0, expected=NINE, alarm_since=None, hubs=0).code == VerdictRemark.NO_HUB


def test_no_failure_where_hardly_one_was_expected_is_quiet() -> None:
    few = replace(NINE, value=0.3, low=0.0, high=2.0)
    assert say(verdict(0, expected=few)) == "Quiet: none worked loose, fewer than 1 expected (0 to 2)"
    assert (
        say(verdict(0, expected=replace(few, value=0.0, high=0.0)))
        == "Quiet: none worked loose, none expected (0 to 0)"
    )


def test_of_a_quarter_that_runs_too_many_are_said_and_too_few_are_not() -> None:
    assert verdict(16, over=False).code == VerdictRemark.WATCH_MORE
    assert say(verdict(16, over=False)).startswith("Watch so far: 16")
    assert verdict(1, over=False).code == VerdictRemark.QUIET
    assert verdict(1, over=False, expected=None).facts["over"] is False


@pytest.mark.parametrize(
    ("warn", "ask", "known", "code", "words"),
    [
        (78, 167, True, CallsVerdict.WARN, "78 to warn: stop and check; then 167 to ask how it holds"),
        (1, 0, True, CallsVerdict.WARN, "1 to warn: stop and check"),
        # of a withdrawn batch, where no model tells a chance
        (2, 9, False, CallsVerdict.WARN, "2 to warn: stop and check; then 9 to ask how it holds"),
        (0, 3, True, CallsVerdict.ASK, "nobody to warn; 3 to ask how it holds"),
        (0, 3, False, CallsVerdict.ASK_BY_DUE_DAY, "the chance of single hubs is not known; 3 to ask how it holds"),
        (0, 0, True, CallsVerdict.NOBODY, "nobody now: none is known to be at risk, and none is overdue"),
        (0, 0, False, CallsVerdict.NOBODY, "nobody now: none is known to be at risk, and none is overdue"),
    ],
)
def test_whom_to_call(warn: int, ask: int, known: bool, code: CallsVerdict, words: str) -> None:
    figures = Figures(
        hubs_in_use=300,
        hubs_looked_at=300,
        to_warn=warn,
        already_warned=0,
        to_ask=ask,
        of_withdrawn_batches=0,
        loose_now=20.0 if known else None,
        loose_within_quarter=30.0 if known else None,
        failures_next_quarter=NINE,
        failures_next_year=NINE,
    )
    found = calls_verdict(figures)
    assert found.code == code
    assert say(found) == words
    assert len(words.split()) <= 15


@pytest.mark.parametrize("seen", [0, 9, 99])
@pytest.mark.parametrize("since", [None, "2026Q1"])
@pytest.mark.parametrize("over", [True, False])
def test_no_verdict_is_longer_than_fifteen_words(seen: int, since: str | None, over: bool) -> None:
    assert len(say(verdict(seen, since=since, over=over)).split()) <= 15


def test_only_an_alarm_in_this_very_quarter_is_one(demo_review: ReviewStudy) -> None:
    forecast = demo_review.forecast
    assert forecast is not None
    assert forecast.watch is not None
    last = len(forecast.earlier) - 1

    def alarmed(step: int, *, limit: int = USED) -> object:
        sums = {length: replace(found, alarms=()) for length, found in forecast.watch.sums.items()}  # type: ignore[union-attr]
        sums[limit] = replace(sums[limit], alarms=(Alarm(step=step, since=max(step - 1, 0), ratio=2.0),))
        return replace(forecast, watch=replace(forecast.watch, sums=sums)).alarm(demo_review.quarter)  # type: ignore[type-var]

    now = alarmed(last)
    assert isinstance(now, dict)
    assert (now["quarter"], now["since"]) == ("2026Q3", "2026Q2")
    assert alarmed(last - 3) is None
    # the limits that are not used say nothing
    assert alarmed(last, limit=FALSE_ALARM_QUARTERS[0]) is None


def test_the_expectation_is_that_of_the_quarters_beginning(demo_review: ReviewStudy) -> None:
    seen, expected = expected_in(demo_review.counts, demo_review.forecast)
    assert demo_review.forecast is not None
    row = demo_review.forecast.earlier.iloc[-1]
    assert seen == row["happened"] == demo_review.seen
    assert expected is not None
    assert (expected.value, expected.low, expected.high) == (row["expected"], row["low_95"], row["high_95"])
    # surer is wider
    assert row["low_95"] <= row["low"] <= row["high"] <= row["high_95"]


def test_without_a_prediction_the_rate_before_is_taken_unless_it_is_of_too_little(demo_review: ReviewStudy) -> None:
    counts = demo_review.counts
    seen, expected = expected_in(counts, None)
    assert seen == counts.failures
    assert expected is not None
    rate = (counts.before_failures + 0.5) / counts.before_months
    assert expected.value == pytest.approx(rate * counts.hub_months, rel=0.03)
    assert expected_in(replace(counts, before_months=counts.hub_months - 1.0), None) == (counts.failures, None)
    assert expected_in(replace(counts, hub_months=0.0), None)[1] is None
    empty = replace(demo_review.forecast, earlier=pd.DataFrame({"quarter": []}))  # type: ignore[type-var]
    assert expected_in(counts, empty)[1] == expected
    assert np.isfinite(expected.high or np.nan)
