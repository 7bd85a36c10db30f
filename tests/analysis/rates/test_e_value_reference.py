"""E-values against published ones."""

import pytest

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.e_value import e_value, e_value_of
from wearstats.analysis.remark import refused

# VanderWeele and Ding, Ann. Intern. Med. 167 (2017) 268-274, and the examples of the R package EValue
PUBLISHED = [
    (10.73, 8.02, 18.0, 20.95, 15.52),
    (3.9, 1.8, 8.7, 7.26, 3.00),
    (0.80, 0.71, 0.91, 1.81, 1.43),
]


@pytest.mark.parametrize(("ratio", "low", "high", "value", "limit"), PUBLISHED)
def test_ratio_and_the_limit_nearest_to_one(ratio: float, low: float, high: float, value: float, limit: float) -> None:
    found = e_value_of(Estimate(value=ratio, low=low, high=high))
    assert (found.value, found.low) == pytest.approx((value, limit), abs=5e-3)


def test_shift_to_another_ratio_than_one() -> None:
    assert e_value(2.5, true_ratio=1.5) == pytest.approx(2.72, abs=5e-3)


def test_interval_that_holds_one_needs_nothing_to_be_explained() -> None:
    assert e_value_of(Estimate(value=1.4, low=0.9, high=2.2)).low == 1.0
    assert e_value_of(Estimate(value=1.4, low=None, high=None)).low == 1.0
    assert e_value(1.0) == 1.0
    assert e_value(0.5) == e_value(2.0)


def test_without_a_ratio_there_is_none() -> None:
    assert e_value_of(no_estimate(refused("no overlap"))).method == refused("no overlap")
    assert e_value_of(Estimate(value=0.0)).status == "none"
