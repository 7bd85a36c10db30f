"""Rates of rare events against published intervals, exact tests and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.rates.poisson_rates import (
    compare_rates,
    poisson_interval,
    predicted_count,
    rate_estimate,
)
from wearstats.analysis.rates.remarks import RateRemark


def test_exact_interval_of_four_events() -> None:
    # printed by the example of cipoisson in the R package survival (LGPL-2): 1.089865 to 10.241589
    assert poisson_interval(4) == pytest.approx((1.089865, 10.241589), abs=1e-6)


def test_exact_interval_without_events() -> None:
    # theory: -log(0.025) is the upper end where nothing happened
    assert poisson_interval(0) == pytest.approx((0.0, -np.log(0.025)))


@given(first=st.integers(0, 30), second=st.integers(0, 30), times=st.tuples(st.floats(1, 1000), st.floats(1, 1000)))
def test_comparison_is_the_exact_binomial_test(first: int, second: int, times: tuple[float, float]) -> None:
    found = compare_rates(first, times[0], second, times[1])
    if first + second == 0:
        assert found.p_value == 1.0
        return
    share = times[0] / sum(times)
    assert found.p_value == pytest.approx(stats.binomtest(first, first + second, share).pvalue)
    if found.ratio.low is not None and found.ratio.high is not None:
        # interval and test agree but for the two ways of making a two-sided test
        one_sided = min(stats.binom.cdf(first, first + second, share), stats.binom.sf(first - 1, first + second, share))
        assert (found.ratio.low <= 1.0 <= found.ratio.high) == (one_sided >= 0.025)


@pytest.mark.parametrize("pairs_drawn", [1000, pytest.param(4000, marks=pytest.mark.slow)])
def test_comparison_holds_its_level(pairs_drawn: int) -> None:
    rng = np.random.default_rng(20260301)
    pairs = rng.poisson([4.0, 16.0], (pairs_drawn, 2))
    p = np.array([compare_rates(int(a), 100.0, int(b), 400.0).p_value for a, b in pairs])
    assert np.mean(p <= 0.05) <= 0.05


def test_holm_by_hand() -> None:
    # S. Holm, Scand. J. Statist. 6 (1979) 65-70: smallest times 4, next times 3, and never falling
    assert holm(np.array([0.01, 0.04, 0.03, 0.005])).tolist() == pytest.approx([0.03, 0.06, 0.06, 0.02])


def test_rate_counts_by_the_time_given() -> None:
    rate = rate_estimate(4, 200.0, per=100.0)
    assert (rate.value, rate.low, rate.high) == pytest.approx((2.0, 1.089865 / 2, 10.241589 / 2), abs=1e-6)
    assert rate_estimate(0, 0.0).status == "none"


def test_count_predicted_from_a_rate_is_covered() -> None:
    rng = np.random.default_rng(20260302)
    seen, ahead = rng.poisson(12.0, 3000), rng.poisson(4.0, 3000)
    inside = 0
    for past, new in zip(seen, ahead, strict=True):
        told = predicted_count(int(past), 3.0, 1.0, told="x")
        assert told.low is not None
        assert told.high is not None
        inside += told.low <= new <= told.high
    # a count is lumpy: at least the 90 in 100 that are promised
    assert 0.90 <= inside / 3000 <= 0.97


@pytest.mark.parametrize("times", [(0.0, 30.0), (30.0, 0.0)])
def test_a_group_that_nobody_watched_is_not_compared(times: tuple[float, float]) -> None:
    found = compare_rates(2, times[0], 3, times[1])
    assert (found.ratio.status, found.p_value) == ("none", 1.0)
    assert found.ratio.code == RateRemark.NOT_OBSERVED
    assert compare_rates(0, 0.0, 0, 0.0).ratio.code == RateRemark.NOTHING_HAPPENED
