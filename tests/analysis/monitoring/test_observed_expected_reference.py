"""Seen over predicted against closed forms, numerical integrals and simulated counts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize, special, stats

from wearstats.analysis.monitoring.observed_expected import ratio_sequence


def ends(seen: list[float], expected: list[float], doubt: list[float]) -> tuple[float, float]:
    told = ratio_sequence(np.array(seen), np.array(expected), np.array(doubt))
    assert told.low is not None
    assert told.high is not None
    return told.low, told.high


def closed(seen: float, expected: float, ratio: float) -> float:
    """Give the logarithm of the gamma-Poisson martingale, shape and rate 2, in closed form."""
    mixed = special.gammaln(2 + seen) + 2 * np.log(2) - (2 + seen) * np.log(2 + expected)
    return float(mixed - seen * np.log(ratio) + ratio * expected)


@pytest.mark.parametrize(("seen", "expected"), [(0, 0.3), (0, 40.0), (1, 9.0), (53, 47.0), (4000, 3200.0), (9, 0.01)])
def test_an_exact_law_gives_the_closed_form(seen: float, expected: float) -> None:
    def excess(log_ratio: float) -> float:
        return closed(seen, expected, float(np.exp(log_ratio))) - float(np.log(20))

    best = np.log(max(seen, 1e-3) / expected)
    high = np.exp(optimize.brentq(excess, best, best + 20))
    low = np.exp(optimize.brentq(excess, best - 30, best)) if seen else 0.0
    # told in three steps, for only the sums count where the law is exact
    steps = np.array([0.2, 0.5, 0.3])
    part = [float(seen), 0.0, 0.0]
    assert ends(part, list(steps * expected), [0.0] * 3) == pytest.approx((low, high), rel=1e-6)


def martingale(seen: list[int], expected: list[float], doubt: list[float], ratio: float) -> float:
    """Mix negative binomials by numerical integration."""
    size = np.square(expected) / np.array(doubt)

    def chance(tried: float) -> float:
        share = size / (size + tried * np.array(expected))
        return float(np.prod(stats.nbinom.pmf(seen, size, share)))

    mixed = integrate.quad(lambda x: chance(x) * stats.gamma.pdf(x, 2, scale=0.5), 0, 30, epsabs=0, limit=200)[0]
    return float(mixed) / chance(ratio)


@pytest.mark.parametrize(
    ("seen", "expected", "doubt"),
    [([3, 7, 5], [2.0, 4.0, 6.0], [0.4, 1.2, 1.0]), ([0, 1], [1.5, 2.5], [0.5, 0.1]), ([60], [40.0], [30.0])],
)
def test_its_ends_are_where_the_integrated_martingale_is_twenty(
    seen: list[int], expected: list[float], doubt: list[float]
) -> None:
    low, high = ends([float(n) for n in seen], expected, doubt)
    for end in (low, high):
        assert martingale(seen, expected, doubt, end) == pytest.approx(20.0, rel=1e-5)


def test_the_martingale_keeps_its_mean() -> None:
    # over all counts of a step after one in which 3 were seen, at a ratio that is true
    counts, expected, doubt = np.arange(70), [2.5, 2.0], [0.4, 0.5]
    for ratio in (0.6, 1.0, 1.8):
        size = 2.0**2 / 0.5
        chance = stats.nbinom.pmf(counts, size, size / (size + ratio * 2.0))
        after = [martingale([3, int(n)], expected, doubt, ratio) for n in counts]
        assert chance @ after == pytest.approx(martingale([3], expected[:1], doubt[:1], ratio), rel=1e-5)


def test_the_doubt_widens_and_none_of_it_narrows() -> None:
    seen, expected = [6.0, 9.0, 8.0], [7.0, 7.0, 8.0]
    widths = [np.subtract(*ends(seen, expected, [each] * 3)[::-1]) for each in (0.0, 1e-9, 1.0, 4.0, 16.0)]
    assert widths[1] == pytest.approx(widths[0], rel=1e-6)
    assert np.all(np.diff(widths[1:]) > 0)


@pytest.mark.parametrize("records", [60, pytest.param(150, marks=pytest.mark.slow)])
@pytest.mark.parametrize("ratio", [1.0, 1.7])
def test_it_holds_at_every_look_and_that_of_an_exact_law_does_not(ratio: float, records: int) -> None:
    rng = np.random.default_rng(20261126)
    steps, mean, variance = 10, 12.0, 16.0
    missed = {True: 0, False: 0}
    for _ in range(records):
        # what the law predicts is off by a gamma factor, step by step
        true = rng.gamma(mean**2 / variance, variance / mean, steps)
        seen = rng.poisson(ratio * true).astype(float)
        for doubted in missed:
            doubt = np.full(steps, variance if doubted else 0.0)
            looks = [ratio_sequence(seen[:k], np.full(k, mean), doubt[:k]) for k in range(1, steps + 1)]
            missed[doubted] += any(not (look.low or 0.0) <= ratio <= (look.high or np.inf) for look in looks)
    assert missed[True] / records <= 0.05
    assert missed[False] / records > 0.07


def test_nothing_expected_is_no_ratio() -> None:
    assert ratio_sequence(np.zeros(2), np.zeros(2), np.zeros(2)).value is None


def test_the_ratio_of_the_sums_lies_inside_though_the_likeliest_is_another() -> None:
    told = ratio_sequence(np.array([50.0, 50.0]), np.array([1.0, 50.0]), np.array([2.0, 0.0]))
    assert told.value == pytest.approx(100 / 51)
    assert (told.low or 0) < 1.2 < 100 / 51 <= (told.high or 0)
