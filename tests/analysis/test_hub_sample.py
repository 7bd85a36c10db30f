"""A count foretold from a sample of shafts holds the count of all as often as it promises."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.forecast import HubSample, count_estimate


@pytest.mark.parametrize("share_with_hub", [0.5, 1.0])
def test_it_holds_what_it_promises(share_with_hub: float) -> None:
    rng = np.random.default_rng(1)
    shafts, taken = 40_000, 1_000
    inside = []
    for _ in range(200):
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
    assert 0.85 < np.mean(inside) < 0.95


def test_all_of_them_are_no_sample() -> None:
    sample = HubSample(shaft=np.array([0, 1, 1]), shafts=3, times=1.0)
    assert sample.variance(np.array([[0.1, 0.2, 0.3]])) == pytest.approx(0.0)
