"""When fittings enter, with what, and what is told at the end of each quarter."""

import datetime

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.history_frames import fitting, histories
from wearstats.analysis.methods.evidence import enter_at_horizon, follow_evidence
from wearstats.analysis.monitoring.confidence_sequences import proportion_sequence

EVENTS = [
    ("F1", "2024-06-01", "loose", "unasked", "flanks"),  # known loose within 12 months
    ("F2", "2025-03-01", "tight", "asked"),
    ("F3", "2025-03-01", "loose", "asked", "flanks"),  # found after 14 months: not known loose by month 12
    ("F4", "2024-06-01", "removed", "unasked"),
    ("F6", "2025-06-01", "tight", "asked"),
]


@pytest.fixture(scope="module")
def ran() -> pd.DataFrame:
    fittings = [fitting(f"F{number}", method="as-supplied" if number % 2 else "owner-fitted") for number in range(1, 7)]
    fittings[4] |= {"fitted_from": "2024-02-10", "fitted_to": "2024-02-10"}
    fittings[5] |= {"known_from": "2024-08-01"}
    return histories(fittings, EVENTS).ran


def test_each_enters_on_the_day_of_its_horizon_with_what_is_known_then(ran: pd.DataFrame) -> None:
    entered = enter_at_horizon(ran, by="method_sent", horizon_months=12.0)
    # twelve mean months are 365.25 days, rounded up; the one known only later is left out
    assert entered["entered_on"].dt.date.tolist() == [*[datetime.date(2025, 1, 1)] * 4, datetime.date(2025, 2, 10)]
    assert entered["failed"].tolist() == [True, False, False, False, False]
    assert entered["supplied"].tolist() == [True, False, True, False, True]
    assert set(entered["stratum"]) == {"2024H1"}


def test_only_the_first_hub_of_a_shaft_enters() -> None:
    fittings = [
        fitting("F1", shaft="S1", method="as-supplied"),
        fitting("F2", "2024-09-01", shaft="S1"),
        fitting("F3", "2024-02-01", shaft="S2"),
    ]
    ran = histories(fittings, [("F1", "2024-06-01", "loose", "unasked", "flanks")]).ran
    # whatever the order of the rows
    for rows in (ran, ran.iloc[::-1]):
        entered = enter_at_horizon(rows, by="method_sent", horizon_months=12.0)
        assert sorted(entered["entered_on"].dt.date) == [datetime.date(2025, 1, 1), datetime.date(2025, 2, 1)]
        assert entered["supplied"].sum() == entered["failed"].sum() == 1


def test_only_quarters_that_have_ended_count(ran: pd.DataFrame) -> None:
    entered = enter_at_horizon(ran, by="method_sent", horizon_months=12.0)
    early = follow_evidence(entered, as_of=datetime.date(2025, 3, 30))
    assert (early.low, early.high, early.settled, early.since) == (None, None, False, None)
    assert early.quarters.empty
    ended = follow_evidence(entered, as_of=datetime.date(2025, 3, 31))
    assert ended.quarters["quarter"].tolist() == ["2025Q1"]
    assert ended.quarters["known_on"].dt.date.tolist() == [datetime.date(2025, 3, 31)]
    counts = ended.quarters[["supplied", "supplied_failed", "hand", "hand_failed"]].to_numpy().tolist()
    assert counts == [[3, 1, 2, 0]]
    assert ended.quarters["difference"].tolist() == pytest.approx([1 / 3])
    row = ended.quarters.iloc[0]
    assert 0 <= row["supplied_low"] < 1 / 3 < row["supplied_high"] <= 1
    assert (row["hand_low"], row["hand_high"]) == (0.0, pytest.approx(proportion_sequence(0, 2)[1]))
    assert ended.low is not None
    assert ended.high is not None
    assert ended.low < 1 / 3 < ended.high


def test_quarters_in_which_nothing_entered_repeat_the_last(ran: pd.DataFrame) -> None:
    entered = enter_at_horizon(ran, by="method_sent", horizon_months=12.0)
    later = follow_evidence(entered, as_of=datetime.date(2025, 12, 31)).quarters
    assert later["quarter"].tolist() == ["2025Q1", "2025Q2", "2025Q3", "2025Q4"]
    assert later["low"].nunique() == later["high"].nunique() == 1


def test_settles_on_the_last_day_of_a_quarter_and_stays_settled() -> None:
    days = pd.period_range("2024Q1", "2026Q3", freq="Q").to_timestamp()
    frame = pd.DataFrame({"entered_on": days.repeat(40), "supplied": np.tile([True, False], 20 * len(days))})
    # 8 of 20 against 1 of 20, every quarter
    place = frame.groupby(["entered_on", "supplied"]).cumcount()
    frame = frame.assign(stratum="one", failed=place < np.where(frame["supplied"], 8, 1))
    told = follow_evidence(frame, as_of=datetime.date(2026, 9, 30))
    assert told.settled
    assert told.since is not None
    assert told.low is not None
    assert 0 < told.low < 0.35 < (told.high or 0)
    before = follow_evidence(frame, as_of=told.since - datetime.timedelta(days=1))
    assert not before.settled
    just = follow_evidence(frame, as_of=told.since)
    assert just.since == told.since
    # what was told then is told the same now
    shared = told.quarters.head(len(just.quarters)).reset_index(drop=True)
    pd.testing.assert_frame_equal(just.quarters, shared)


@pytest.mark.parametrize("first", [True, False])
def test_no_difference_is_told_before_both_ways_were_fitted(first: bool) -> None:
    days = pd.to_datetime(["2025-01-10"] * 6 + ["2025-04-10"] * 6)
    supplied = np.array([first] * 6 + [not first] * 6)
    frame = pd.DataFrame({"entered_on": days, "supplied": supplied, "stratum": "all", "failed": [True, False] * 6})
    told = follow_evidence(frame, as_of=datetime.date(2025, 6, 30)).quarters
    assert len(told) == 2
    assert np.isnan(told["difference"].iloc[0])
    # by then three of six failed of each
    assert told["difference"].iloc[1] == pytest.approx(0.0)
