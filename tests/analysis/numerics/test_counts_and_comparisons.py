"""Laws of counts added up one thing at a time, their intervals counted out, and comparisons beside a library's."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.numerics.poisson_binomial import count_chances, count_interval, many_interval

CHANCES = np.random.default_rng(1).uniform(0.0, 1.0, (3, 12))


def test_holm_is_the_librarys() -> None:
    for p in ([0.03, 0.001, 0.2, 0.011, 0.9], [0.5], [0.04, 0.04, 0.6]):
        assert holm(p) == pytest.approx(multipletests(p, method="holm")[1], rel=1e-12)


def test_a_law_of_counts_is_that_of_things_added_one_by_one() -> None:
    added = np.zeros(13)
    for row in CHANCES:
        law = np.ones(1)
        for chance in row:
            law = np.convolve(law, [1 - chance, chance])
        added += law / len(CHANCES)
    assert count_chances(CHANCES) == pytest.approx(added, abs=1e-12)
    # and by every way of happening or not, of four things
    few, counted = CHANCES[0, :4], np.zeros(5)
    for ways in itertools.product((0, 1), repeat=4):
        counted[sum(ways)] += np.prod(np.where(np.array(ways) == 1, few, 1 - few))
    assert count_chances(few) == pytest.approx(counted, abs=1e-12)


def test_a_law_that_is_cut_off_has_lost_next_to_nothing() -> None:
    law = count_chances(np.full(3000, 0.01))
    assert law.size < 200
    assert law == pytest.approx(stats.binom.pmf(np.arange(law.size), 3000, 0.01), abs=1e-12)


def test_drawn_chances_worked_out_in_parts_are_those_worked_out_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = count_chances(CHANCES)
    monkeypatch.setattr("wearstats.analysis.numerics.poisson_binomial._AT_A_TIME", 100)
    assert count_chances(CHANCES) == pytest.approx(whole, abs=1e-14)


@pytest.mark.parametrize("level", [0.8, 0.95])
def test_an_interval_of_counts_is_the_binomial_one(level: float) -> None:
    law = stats.binom.pmf(np.arange(41), 40, 0.3)
    low, high = count_interval(law, level=level)
    assert (low, high) == stats.binom.interval(level, 40, 0.3)
    assert count_interval(np.array([1.0]), level=level) == (0, 0)


def test_an_interval_of_many_is_normal_with_the_spread_of_the_draws_in_it() -> None:
    rng = np.random.default_rng(2)
    mean = rng.normal(5000.0, 60.0, 4000)
    low, high = many_interval(mean, np.full(4000, 80.0**2), level=0.95, rng=rng)
    # the two spreads add up as squares: 100
    assert (low, high) == pytest.approx((5000 - 196, 5000 + 196), abs=5)
    # whole counts that hold what lies between them
    assert many_interval(np.full(9, 1000.4), np.full(9, 1e-12), level=0.95, rng=rng) == (1000.0, 1001.0)
    assert many_interval(np.full(9, 1.0), np.full(9, 100.0), level=0.95, rng=rng)[0] == 0.0
