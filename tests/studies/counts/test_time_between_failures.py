"""Waits between failures: counted in use, not in days, and told only where they are enough."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.report.remarks.document import plain
from wearstats.studies.counts.time_between_failures import hub_months_until, wait_for_failures
from wearstats.studies.inputs.hubs_in_use import HubsInUse

BEGUN = pd.Timestamp("2024-01-01")
AS_OF = datetime.date(2026, 6, 30)


def hubs(days: list[int], *, running: int = 40, fitted: int = 0) -> HubsInUse:
    """Give hubs fitted on one day, of which some failed so many days later."""
    stop = [BEGUN + pd.Timedelta(days=day) for day in days] + [pd.NaT] * running
    frame = pd.DataFrame(
        {
            "from_on": BEGUN + pd.to_timedelta(np.full(len(stop), fitted), unit="D"),
            "to_on": pd.to_datetime(pd.Series(stop)),
            "failed": [True] * len(days) + [False] * running,
        }
    )
    return HubsInUse(frame=frame, as_of=AS_OF)


def test_use_adds_up_hub_by_hub() -> None:
    fleet = hubs([100, 300, 300, 512])
    days = np.array(["2024-01-01", "2024-06-30", "2025-03-01", "2026-06-30"], dtype="datetime64[D]")
    # one by one, by hand
    told = [
        sum(
            max((min(pd.Timestamp(day), stop if pd.notna(stop) else pd.Timestamp.max) - start).days, 0)
            for start, stop in zip(fleet.frame["from_on"], fleet.frame["to_on"], strict=True)
        )
        / MEAN_MONTH_DAYS
        for day in days
    ]
    assert hub_months_until(fleet, days) == pytest.approx(told)


def test_few_failures_tell_nothing() -> None:
    assert wait_for_failures(hubs([20 * number for number in range(1, 11)])) is None


def test_those_of_one_day_count_as_one() -> None:
    found = wait_for_failures(hubs([20 * number for number in range(1, 42)] + [60, 60]))
    assert found is not None
    assert len(found.frame) == 40


def test_where_many_fall_on_one_day_nothing_is_said() -> None:
    assert wait_for_failures(hubs([20 * number for number in range(1, 30)] * 3)) is None


def test_a_rush_is_found_and_a_steady_course_is_not() -> None:
    rng = np.random.default_rng(1)
    steady = np.cumsum(1 + rng.exponential(18.0, 40)).astype(int).tolist()
    found = wait_for_failures(hubs(steady))
    assert found is not None
    assert found.frame["outside"].eq("").mean() > 0.9
    assert not found.last_is_long
    quiet = wait_for_failures(hubs(sorted({int(day / 4) for day in steady})))
    assert quiet is not None
    assert quiet.last_is_long


def test_the_document_has_the_days_of_long_waits() -> None:
    steady = list(range(20, 420, 20))
    found = wait_for_failures(hubs([*steady, 1400, *range(1420, 1600, 20)]))
    assert found is not None
    document = plain(found)
    assert document["shorter"] == []
    assert document["longer"] == [str((BEGUN + pd.Timedelta(days=1400)).date())]
    assert [type(end) for end in document["usual_hub_months"]] == [float, float]


def test_chance_alone_is_hardly_ever_outside() -> None:
    rng = np.random.default_rng(2)
    outside = []
    for _ in range(200):
        days = np.cumsum(rng.exponential(25.0, 30)).astype(int) + 1
        found = wait_for_failures(hubs(days.tolist(), running=2000))
        if found is None:
            continue
        outside.append(found.frame["outside"].ne("").mean())
    assert len(outside) > 50
    assert np.mean(outside) < 0.02
