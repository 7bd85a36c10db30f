"""Groups compared with themselves before: exact intervals, and all told together."""

import datetime

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.rates.poisson_rates import rate_estimate
from wearstats.report.remarks.say import say
from wearstats.studies.counts.groups import (
    LEVEL,
    compare_groups,
    group_name,
    is_shown,
    smallest_p,
    told_together,
)
from wearstats.studies.review.study import reasons


def sums(rows: list[tuple[int, float, int, float]], *, by: str = "region") -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["number", "hub_months", "before_number", "before_months"])
    return frame.assign(by=by, group=[f"g{row}" for row in range(len(rows))])


def test_rates_are_those_of_one_group_alone() -> None:
    frame = compare_groups(sums([(3, 120.0, 4, 400.0), (0, 50.0, 1, 10.0), (5, 0.0, 1, 10.0)]))
    # that of which nothing was in use has no rate
    assert frame["group"].tolist() == ["g0", "g1"]
    for row, (events, months) in enumerate(((3, 120.0), (0, 50.0))):
        alone = rate_estimate(events, months, per=100.0)
        assert frame["rate"][row] == pytest.approx(alone.value)
        assert frame["low"][row] == pytest.approx(alone.low)
        assert frame["high"][row] == pytest.approx(alone.high)
    # R 4: binom.test(3, 7, 120 / 520), here by the reference library
    assert frame["p"][0] == pytest.approx(stats.binomtest(3, 7, 120 / 520).pvalue)


def test_the_smallest_p_is_that_of_the_least_likely_split() -> None:
    frame = compare_groups(sums([(2, 100.0, 3, 300.0), (0, 100.0, 1, 900.0), (0, 10.0, 0, 10.0), (2, 10.0, 1, 0.0)]))
    found = smallest_p(frame)
    by_hand = [min(stats.binomtest(k, 5, 0.25).pvalue for k in range(6)), 0.1, 1.0, 1.0]
    np.testing.assert_allclose(found, by_hand)
    assert (frame["p"].to_numpy() >= found - 1e-12).all()


def test_groups_too_small_to_show_anything_do_not_count_among_the_comparisons() -> None:
    # Tarone's example of the matter: of many tests most could not have been significant whatever had happened
    large = compare_groups(sums([(12, 100.0, 8, 400.0)]))
    small = compare_groups(sums([(1, 100.0, 0, 400.0)] * 40, by="batch"))
    first, second = told_together(large, small)
    assert first["counted"].tolist() == [True]
    assert not second["counted"].any()
    assert first["p_adjusted"][0] == pytest.approx(first["p"][0])
    assert (second["p_adjusted"] == 1.0).all()


def test_where_all_could_show_a_change_it_is_holm() -> None:
    frame = compare_groups(sums([(12, 100.0, 8, 400.0), (9, 100.0, 30, 400.0), (20, 100.0, 30, 400.0)]))
    (told,) = told_together(frame)
    assert told["counted"].all()
    np.testing.assert_allclose(told["p_adjusted"], holm(frame["p"].to_numpy()))


@pytest.mark.parametrize("looks", [100, pytest.param(400, marks=pytest.mark.slow)])
def test_hardly_ever_a_false_alarm_where_nothing_changed(looks: int) -> None:
    rng = np.random.default_rng(20260930)
    months = np.concatenate([np.full(6, 300.0), np.full(60, 15.0)])
    alarms = 0
    for _ in range(looks):
        now, before = rng.poisson(0.01 * months), rng.poisson(0.04 * months)
        rows = list(zip(now.tolist(), months.tolist(), before.tolist(), (4 * months).tolist(), strict=True))
        (told,) = told_together(compare_groups(sums(rows)))
        alarms += bool((told["p_adjusted"] < LEVEL).any())
    # 5 in 100 promised; four standard deviations more are 13 of 100 looks, and 37 of 400
    assert alarms <= 0.05 * looks + 4 * np.sqrt(0.05 * 0.95 * looks)


def test_nothing_at_all_is_told_as_nothing() -> None:
    empty = compare_groups(sums([]))
    first, second = told_together(empty, empty)
    assert first.empty
    assert second.empty


def test_batches_with_one_case_are_not_shown() -> None:
    frame = compare_groups(sums([(1, 9.0, 0, 9.0), (1, 9.0, 1, 9.0)], by="batch"))
    assert is_shown(frame).tolist() == [False, True]
    assert is_shown(frame.assign(by="region")).all()


def test_group_names() -> None:
    assert group_name("undersize_um", 25.0) == "25"
    assert group_name("region", "carr") == "carr"


def test_reasons_of_hubs_at_risk() -> None:
    fitted = [datetime.date(2024, 3, 1)] * 4 + [datetime.date(2026, 8, 1)]
    heard = [fitted[0], datetime.date(2025, 9, 1), datetime.date(2026, 9, 1), fitted[3], fitted[4]]
    running = pd.DataFrame(
        {
            "gap_left_um": [50.0, 10.0, 20.0, None, 5.0],
            "fitted_on": pd.to_datetime(fitted),
            "last_word_on": pd.to_datetime(heard),
        }
    )
    assert reasons(running, as_of=datetime.date(2026, 9, 30)).map(say).tolist() == [
        "gap wider than of 75 in 100; runs 31 months; never heard of since",
        "no wide gap; runs 31 months; no word for 13 months",
        "no wide gap; runs 31 months",
        "gap not known, taken as those of all others; runs 31 months; never heard of since",
        "no wide gap; runs 2 months",
    ]
