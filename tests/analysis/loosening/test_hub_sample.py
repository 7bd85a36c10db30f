"""A count or a cost predicted from a sample of shafts holds that of all as often as it promises."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.loosening.forecast import HubSample, cost_estimate, count_estimate


@pytest.mark.parametrize("samples", [60, pytest.param(200, marks=pytest.mark.slow)])
@pytest.mark.parametrize("share_with_hub", [0.5, 1.0])
def test_it_holds_what_it_promises(share_with_hub: float, samples: int) -> None:
    rng = np.random.default_rng(1)
    shafts, taken = 40_000, 1_000
    inside = []
    for _ in range(samples):
        hubs = rng.binomial(2, 0.5, shafts) + (rng.uniform(size=shafts) < 0.2)
        hubs[rng.uniform(size=shafts) > share_with_hub] = 0
        shaft = np.repeat(np.arange(shafts), hubs)
        # hubs of one shaft share their chance
        chance = rng.beta(0.6, 12.0, shafts)[shaft]
        happened = int((rng.uniform(size=chance.size) < chance).sum())
        some = shaft < taken
        sample = HubSample(shaft=shaft[some], shafts=taken, times=shafts / taken)
        told = count_estimate(np.tile(chance[some], (200, 1)), told="x", sample=sample, rng=rng)
        assert told.low is not None
        assert told.high is not None
        inside.append(told.low <= happened <= told.high)
    # 2.35 standard errors of a share of 0.9: between 0.85 and 0.95 of 200 samples, 0.81 and 0.99 of 60
    assert np.mean(inside) == pytest.approx(0.9, abs=0.05 * np.sqrt(200 / samples))


def test_all_of_them_are_no_sample() -> None:
    sample = HubSample(shaft=np.array([0, 1, 1]), shafts=3, times=1.0)
    assert sample.variance(np.array([[0.1, 0.2, 0.3]])) == pytest.approx(0.0)


def test_what_it_costs_has_the_same_doubt_of_sampling() -> None:
    # at one price for all, cost is the count times the price, of all hubs and of a sample of them
    rng = np.random.default_rng(2)
    chance = np.tile(rng.beta(0.6, 6.0, 5_000), (100, 1))
    price = np.full(5_000, 250.0)
    some = HubSample(shaft=np.arange(5_000) % 2_500, shafts=2_500, times=4.0)
    for sample in (None, some):
        cost = cost_estimate(chance, price, sample=sample, rng=rng)
        count = count_estimate(chance, told="x", sample=sample, rng=rng)
        assert cost.value == pytest.approx(250.0 * (count.value or 0.0))
        width = ((cost.high or 0.0) - (cost.low or 0.0)) / 250.0
        # ends of counts are whole numbers, rounded outwards
        assert width == pytest.approx((count.high or 0.0) - (count.low or 0.0) - 1.0, rel=0.05, abs=2.0)


def test_what_it_costs_is_never_less_than_nothing() -> None:
    sample = HubSample(shaft=np.arange(3), shafts=3, times=50.0)
    cost = cost_estimate(np.full((20, 3), 0.01), np.full(3, 100.0), sample=sample, rng=np.random.default_rng(3))
    assert cost.low == 0.0
