"""How far the records of outcomes reach."""

import datetime

import numpy as np
import pytest

from tests.analysis.support.history_frames import AS_OF, fitting, histories
from wearstats.analysis.histories.records_end import OutcomesEnd, early_regions, stream_end, usual_pause_days
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.units import MEAN_MONTH_DAYS

BEGIN = np.datetime64("2024-01-01")
MONTH = MEAN_MONTH_DAYS


def days(*after: float) -> np.ndarray:
    """Days so long after the beginning."""
    return BEGIN + np.array(after).astype("timedelta64[D]")


def test_pauses_of_one_length_end_half_a_pause_after_the_last() -> None:
    assert usual_pause_days(days(*range(0, 301, 30))) == 15.0


def test_outcomes_at_random_end_a_mean_pause_after_the_last() -> None:
    # the exponential law has no memory: from the last outcome back to any day is as long as between two
    rng = np.random.default_rng(20261129)
    pauses = rng.exponential(20.0, 400)
    found = [usual_pause_days(days(*np.cumsum(rng.permutation(pauses)[:36]))) for _ in range(400)]
    assert np.mean(found) == pytest.approx(20.0, rel=0.06)


def test_rounds_twice_a_year_are_no_end_in_between() -> None:
    # three weeks of answers each half-year: three months after one the next may yet come
    rounds = np.concatenate([half * 182 + np.arange(0, 21, 3) for half in range(4)])
    assert 60 < usual_pause_days(days(*rounds)) < 91


def test_few_pauses_take_the_wait_for_the_first_as_one() -> None:
    assert usual_pause_days(days(100, 200), BEGIN) == 50.0
    assert usual_pause_days(days(100), BEGIN) == 50.0
    assert usual_pause_days(days(100)) == 0.0
    assert usual_pause_days(days()) == 0.0


def test_an_end_lies_between_the_last_outcome_and_the_intake_that_brought_it() -> None:
    stream = days(*range(0, 301, 30))
    assert stream_end(stream, BEGIN, BEGIN + 900) == BEGIN + 315
    assert stream_end(stream, BEGIN, BEGIN + 305) == BEGIN + 305
    assert stream_end(stream, BEGIN, BEGIN + 10) == BEGIN + 300


def test_a_region_ends_by_itself_only_where_it_has_been_silent_for_long() -> None:
    often, stopped = days(*range(0, 600, 5)), days(*range(0, 301, 10))
    where = np.array(["carr"] * often.size + ["upland"] * stopped.size, dtype=object)
    together = np.concatenate([often, stopped])
    assert early_regions(where, together, BEGIN, BEGIN + 600) == {"upland": BEGIN + 305}
    assert early_regions(where, together, BEGIN, BEGIN + 315) == {}


def test_silence_ends_with_the_records() -> None:
    told = histories(
        [fitting("F1"), fitting("F2", "2025-10-01")],
        follow_ups=[("F1", "2024-07-01", "tight", "asked")],
        ends=OutcomesEnd(day=datetime.date(2025, 5, 1)),
    )
    assert datetime.date(2026, 1, 1) == AS_OF
    first, second = (row for _, row in told.frame.iterrows())
    assert first["silent_since_months"] == pytest.approx(182 / MONTH)
    assert first["silent_until_months"] == pytest.approx(486 / MONTH)
    assert first["age_months"] == pytest.approx(731 / MONTH)
    # fitted after the end: nothing is known of it, and it is in use all the same
    assert (second["silent_since_months"], second["silent_until_months"]) == (0.0, 0.0)
    silent = SilentHistories.from_frame(told.ran)
    assert silent.left.tolist() == pytest.approx([486 / MONTH, 0.0])


def test_of_a_region_silence_ends_with_its_own_records() -> None:
    told = histories(
        [fitting("F1", region="carr"), fitting("F2", region="upland")],
        ends=OutcomesEnd(day=datetime.date(2025, 5, 1), by_region={"upland": datetime.date(2024, 12, 31)}),
    )
    assert told.frame["silent_until_months"].tolist() == pytest.approx([486 / MONTH, 365 / MONTH])


def test_news_from_after_a_stated_end_teaches_nothing_and_is_known() -> None:
    # bad news comes in at once, good news with the next round: what came after the end was chosen by what it says
    told = histories(
        [fitting(name) for name in ("F1", "F2", "F3")],
        follow_ups=[
            ("F1", "2024-07-01", "tight", "asked"),
            ("F1", "2025-07-01", "tight", "asked"),
            ("F2", "2024-07-01", "tight", "asked"),
            ("F2", "2025-07-01", "loose", "unasked", "flanks"),
            ("F3", "2024-07-01", "loose", "unasked", "flanks"),
        ],
        ends=OutcomesEnd(day=datetime.date(2025, 1, 1), stated=True),
    )
    learnt = SilentHistories.from_frame(told.ran)
    assert learnt.failed.tolist() == [False, False, True]
    assert learnt.left[:2].tolist() == pytest.approx([366 / MONTH] * 2)
    assert learnt.silent_from[:2].tolist() == pytest.approx([182 / MONTH] * 2)
    assert np.isinf(learnt.right[:2]).all()
    known = SilentHistories.from_frame(told.ran, with_late_news=True)
    assert known.failed.tolist() == [False, True, True]
    assert known.last_word[0] == pytest.approx(547 / MONTH)
    assert np.isnan(known.silent_from[0])


def test_without_an_end_nothing_is_cut() -> None:
    told = histories([fitting("F1")], follow_ups=[("F1", "2024-07-01", "tight", "asked")])
    assert told.frame["silent_until_months"].tolist() == pytest.approx(told.frame["age_months"].tolist())
    assert told.frame["cut_since_months"].isna().all()
