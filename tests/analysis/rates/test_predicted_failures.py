"""Failures predicted from one rate: never more than there are hubs, as drawn one by one, and Poisson for many."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.rates.poisson_rates import predicted_count
from wearstats.analysis.rates.predicted_failures import predicted_failures


@pytest.mark.parametrize("events", [0, 1, 5, 40])
@pytest.mark.parametrize("time", [0.5, 10.0, 400.0])
@pytest.mark.parametrize("hubs", [0, 1, 12, 3000])
@pytest.mark.parametrize("ahead", [3.0, 12.0])
def test_never_more_than_there_are_hubs(events: int, time: float, hubs: int, ahead: float) -> None:
    found = predicted_failures(events, time, hubs=hubs, ahead=ahead, told="failures")
    assert found.value is not None
    assert found.low is not None
    assert found.high is not None
    assert 0 <= found.low <= found.high <= hubs
    assert 0 <= found.value <= hubs
    assert float(found.low).is_integer()
    assert float(found.high).is_integer()


@pytest.mark.parametrize(
    ("events", "time", "hubs", "ahead"), [(0, 30.0, 1, 12.0), (2, 60.0, 12, 3.0), (9, 300.0, 40, 12.0)]
)
def test_as_drawn_hub_by_hub(events: int, time: float, hubs: int, ahead: float) -> None:
    # an independent computation: the rate drawn from its gamma distribution, then every hub's time to failure
    rng = np.random.default_rng(11)
    rates = rng.gamma(events + 0.5, 1 / time, size=(100_000, 1))
    failed = (rng.exponential(1 / rates, size=(100_000, hubs)) < ahead).sum(axis=1)
    found = predicted_failures(events, time, hubs=hubs, ahead=ahead, told="failures", level=0.9)
    assert found.value == pytest.approx(failed.mean(), abs=4 * failed.std() / np.sqrt(failed.size))
    inside = ((failed >= (found.low or 0)) & (failed <= (found.high or 0))).mean()
    assert inside >= 0.895
    for end, share in ((found.low, 0.05), (found.high, 0.95)):
        assert abs(float(np.quantile(failed, share)) - (end or 0.0)) <= 1


def test_of_very_many_hubs_that_hardly_fail_it_is_the_poisson_mixture() -> None:
    many = predicted_failures(8, 90_000.0, hubs=1500, ahead=3.0, told="failures")
    poisson = predicted_count(8, 90_000.0, 4500.0, told="failures")
    assert many.value == pytest.approx(poisson.value, rel=1e-3)
    assert (many.low, many.high) == (poisson.low, poisson.high)


def test_where_nothing_ran_there_is_none() -> None:
    assert predicted_failures(0, 0.0, hubs=3, ahead=3.0, told="failures").value is None
