"""Watching rare events against published charts, scores and run lengths."""

import numpy as np
import pytest
from scipy import stats

from tests.analysis.support.average_run_length import limit_for, mean_run_length, poisson_steps
from tests.analysis.support.fixed_limits import cumulate, waiting_limits, watch
from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.monitoring.cusum import binary_scores, wait_chart


def test_cumulative_sum_published() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k .3175, h 4.1959; sums at steps 13 to 20, first signal at 14
    x = reference_frame("cusum_twenty_steps.csv")["x"].to_numpy(float)
    high, low = cumulate(x - 325 - 0.3175), cumulate(325 - x - 0.3175)
    assert high[12:] == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.006)
    assert int(np.flatnonzero(high > 4.1959)[0]) + 1 == 14
    assert low.max() == pytest.approx(0.72, abs=0.01)


def test_scores_published() -> None:
    # S. H. Steiner et al., Biostatistics 1 (2000) 441-452: what a case adds at an odds ratio of 2, by its risk
    stays, fails = binary_scores(np.array([0.025, 0.1, 0.5]), 2.0)
    assert stays == pytest.approx([-0.024693, -0.095310, -0.405465], abs=1e-6)
    assert fails == pytest.approx([0.668455, 0.597837, 0.287682], abs=1e-6)


@pytest.mark.parametrize(
    ("limit", "mean", "length", "near"),
    [(4.0, 0.0, 335.4, 0.1), (5.0, 0.0, 930.8, 0.1), (4.0, 1.0, 8.383, 5e-4), (5.0, 1.0, 10.376, 5e-4)],
)
def test_run_length_published(limit: float, mean: float, length: float, near: float) -> None:
    # D. C. Montgomery, Introduction to Statistical Quality Control, table of CUSUM run lengths (k = 0.5): two-sided 168
    # and 465 (unrounded 167.7 and 465.4), so one-sided twice that; one sigma off 8.38 and 10.4 (8.383, 10.376)
    centres = np.linspace(-9.0, 9.0, 4001)
    chance = stats.norm.pdf(centres - mean)
    assert mean_run_length(centres - 0.5, chance / chance.sum(), limit, states=960) == pytest.approx(length, abs=near)


def test_valve_failures_published() -> None:
    # D. C. Montgomery, example of a time-between-events chart: to the power .2777, mean 5.3866, limits -.889 and 11.662
    hours = reference_frame("valve_failures.csv")["hours"].to_numpy(float)
    chart = wait_chart(hours)
    assert chart.value[:4] == pytest.approx([4.80986, 6.70903, 5.72650, 3.81367], abs=2e-5)
    assert (chart.centre, chart.low, chart.high) == pytest.approx((5.3866, -0.889, 11.662), abs=2e-3)
    assert chart.outside.size == 0


def test_waits_of_a_steady_rate_lie_within_the_limits() -> None:
    low, high = waiting_limits()
    assert stats.expon.cdf(low) + stats.expon.sf(high) == pytest.approx(0.0027)


def test_run_length_is_what_simulated_sums_show() -> None:
    expected, ratio, wanted = 3.0, 2.0, 40.0
    limit = limit_for(expected, ratio, wanted)
    steps, chance = poisson_steps(expected, ratio)
    stated = mean_run_length(steps, chance, limit + 1e-6)
    rng = np.random.default_rng(20260303)
    runs, alive, total = np.zeros(4000), np.ones(4000, dtype=bool), np.zeros(4000)
    while alive.any():
        total[alive] = np.maximum(total[alive] + rng.poisson(expected, alive.sum()) * np.log(ratio) - expected, 0.0)
        runs[alive] += 1
        alive &= total < limit + 1e-6
    assert stated >= 0.98 * wanted
    assert runs.mean() == pytest.approx(stated, rel=0.06)


def test_a_signal_says_since_when_and_how_much() -> None:
    seen, expected = np.array([2.0, 2, 7, 6, 8]), np.full(5, 3.0)
    found = watch(seen, expected, -expected, odds_ratio=2.0, limit=2.5)
    assert (found.signal, found.since) == (3, 2)
    assert found.ratio == pytest.approx(13 / 6)
    assert watch(expected, expected, -expected, odds_ratio=2.0, limit=2.5).signal is None


@pytest.mark.parametrize("expected", [0.4, 2.7, 9.55, 26.7])
@pytest.mark.parametrize("wanted", [20.0, 40.0, 80.0])
def test_a_limit_never_gives_more_false_alarms_than_asked(expected: float, wanted: float) -> None:
    limit = limit_for(expected, 2.0, wanted)
    steps, chance = poisson_steps(expected, 2.0)
    assert mean_run_length(steps, chance, limit) >= wanted
