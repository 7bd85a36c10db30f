"""Limits of the funnel against scipy's exact test, the normal limit, and unchanged groups drawn at random."""

import numpy as np
import pytest
from scipy import stats

from wearstats.analysis.rates.funnel import funnel_limits


def test_counts_beyond_a_limit_are_those_that_the_exact_test_finds() -> None:
    # independent: scipy's binomial test, one tail at a time
    for total, share in ((4, 0.2), (10, 0.2), (40, 0.2), (200, 0.25)):
        (low,), (high,) = funnel_limits(np.array([float(total)]), share, level=0.95)
        for seen in range(total + 1):
            more = stats.binomtest(seen, total, share, alternative="greater").pvalue
            fewer = stats.binomtest(seen, total, share, alternative="less").pvalue
            assert (seen / (total * share) > high) == (more <= 0.025)
            assert (seen / (total * share) < low) == (fewer <= 0.025)


def test_limits_become_those_of_the_normal_distribution() -> None:
    # theory: with many cases the binomial is normal, with variance n s (1 - s)
    (low,), (high,) = funnel_limits(np.array([1e6]), 0.2, level=0.95)
    half = stats.norm.ppf(0.975) * np.sqrt(0.8 / (1e6 * 0.2))
    assert (low, high) == pytest.approx((1 - half, 1 + half), abs=0.02 * half)


def test_of_unchanged_groups_at_least_as_many_as_said_lie_within() -> None:
    draws, rng = 20_000, np.random.default_rng(4)
    for total, share in ((30, 0.2), (300, 0.25)):
        low, high = funnel_limits(np.array([float(total)]), share, level=0.95)
        times = rng.binomial(total, share, draws) / (total * share)
        within = np.mean((times >= low) & (times <= high))
        assert 0.95 <= within <= 0.985
