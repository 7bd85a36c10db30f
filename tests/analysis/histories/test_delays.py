"""How late unasked reports come, and when each hub came loose by that."""

import datetime

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.history_frames import fitting, histories, only
from wearstats.analysis.histories.delays import FEWEST_TOLD, delay_moments, learn_delay
from wearstats.analysis.histories.records_end import OutcomesEnd

MONTH, HALF = 30.4375, 0.5 / 30.4375


def told(name: str, seen_on: str, failed_on: str | None, prompted: str = "unasked") -> tuple[object, ...]:
    return (name, seen_on, "loose", prompted, "flanks", failed_on)


def test_a_day_told_dates_the_failure_to_it() -> None:
    for prompted in ("unasked", "asked"):
        row = only(
            histories(
                [fitting("F1")],
                [("F1", "2024-06-01", "tight", "asked"), told("F1", "2025-01-01", "2024-11-20", prompted)],
            )
        )
        day = (datetime.date(2024, 11, 20) - datetime.date(2024, 1, 1)).days / MONTH
        assert row["failed_after_months"] == pytest.approx(day - HALF)
        assert row["first_bad_months"] == pytest.approx(day + HALF)
        assert row["day_told"]
        assert row["reported_months"] == pytest.approx(366 / MONTH)


@pytest.mark.parametrize("failed_on", ["2024-05-31", "2025-01-02", None])
def test_a_day_that_cannot_be_is_not_used(failed_on: str | None) -> None:
    events = [("F1", "2024-06-01", "tight", "asked"), told("F1", "2025-01-01", failed_on)]
    row = only(histories([fitting("F1")], events))
    assert row["first_bad_months"] == pytest.approx(366 / MONTH)
    assert row["first_bad_months"] - row["failed_after_months"] == pytest.approx(1.0)
    assert not row["day_told"]


def test_the_day_may_be_told_when_the_hub_is_sent_back() -> None:
    row = only(
        histories(
            [fitting("F1")],
            [("F1", "2025-01-01", "loose", "unasked", "flanks")],
            returns=[("H1", "2025-02-01", "worked-loose", "F1", "2024-12-20")],
        )
    )
    assert row["day_told"]
    assert row["first_bad_months"] == pytest.approx(354 / MONTH + HALF)
    assert row["reported_months"] == pytest.approx(366 / MONTH)


def test_others_are_taken_to_write_as_late_as_those_who_tell() -> None:
    fittings = [fitting(f"F{number}") for number in range(FEWEST_TOLD + 1)]
    reported = pd.Timestamp("2025-01-31")
    events = [
        told(f"F{number}", "2025-01-31", f"{reported - pd.Timedelta(days=10 + number % 2 * 10):%Y-%m-%d}")
        for number in range(FEWEST_TOLD)
    ]
    found = histories(fittings, [*events, told(f"F{FEWEST_TOLD}", "2025-01-31", None)])
    assert found.delay.learnt
    assert (found.delay.told, found.delay.untold) == (FEWEST_TOLD, 1)
    assert found.delay.mean_months == pytest.approx(15 / MONTH)
    row = found.frame.set_index("fitting").loc[f"F{FEWEST_TOLD}"]
    middle = (row["failed_after_months"] + row["first_bad_months"]) / 2
    assert middle == pytest.approx((396 - 15) / MONTH)
    assert row["first_bad_months"] - row["failed_after_months"] == pytest.approx(2 * 3**0.5 * 5 / MONTH)
    # with one fewer nothing is learnt
    few = histories(fittings, [*events[1:], told(f"F{FEWEST_TOLD}", "2025-01-31", None)])
    assert not few.delay.learnt
    assert few.delay.before_report == pytest.approx((0.0, 1.0))


def test_reports_after_the_records_end_teach_nothing() -> None:
    fittings = [fitting(f"F{number}") for number in range(FEWEST_TOLD)]
    events = [told(f"F{number}", "2025-01-31", "2025-01-20") for number in range(FEWEST_TOLD)]
    assert histories(fittings, events).delay.learnt
    assert not histories(fittings, events, ends=OutcomesEnd(day=datetime.date(2025, 1, 30))).delay.learnt


def test_delays_cut_off_by_the_records_end_against_counting_by_hand() -> None:
    # 1, 1, 2, 3 with windows 9, 1, 9, 9: three could have been as long as 3, of them one was; three could be 2, less it
    mean, sd = delay_moments(np.array([1.0, 1.0, 2.0, 3.0]), np.array([9.0, 1.0, 9.0, 9.0])) or (0.0, 0.0)
    mass = {3.0: 1 / 3, 2.0: 2 / 3 * 1 / 2, 1.0: 2 / 3 * 1 / 2}
    assert mean == pytest.approx(sum(value * share for value, share in mass.items()))
    assert sd == pytest.approx(np.sqrt(sum(value**2 * share for value, share in mass.items()) - mean**2))
    assert delay_moments(np.array([1.0, 2.0]), np.array([1.0, 2.0])) is None


def test_the_mean_delay_is_found_though_late_reports_are_not_yet_in() -> None:
    rng = np.random.default_rng(20261130)
    window, delay = rng.uniform(0.0, 6.0, 40_000), rng.gamma(2.0, 0.5, 40_000)
    seen = delay <= window
    assert delay[seen].mean() < 0.95
    found = learn_delay(delay[seen], window[seen], np.ones(int(seen.sum()), dtype=bool), within_months=1, half_day=0)
    assert found.mean_months == pytest.approx(1.0, abs=0.02)
    assert found.sd_months == pytest.approx(np.sqrt(0.5), abs=0.03)
