"""On which side of a number an estimate surely lies, and which intervals of a share say nothing."""

from __future__ import annotations

import pytest

from wearstats.analysis.estimate import Estimate, assumed, may_be_any_share, no_estimate
from wearstats.analysis.remark import refused


@pytest.mark.parametrize(
    ("told", "null", "side"),
    [
        (Estimate(value=2.0, low=1.0, high=3.0), 0.0, 1),
        (Estimate(value=-2.0, low=-3.0, high=-1.0), 0.0, -1),
        (Estimate(value=2.0, low=0.0, high=3.0), 0.0, 0),
        (Estimate(value=-2.0, low=-3.0, high=0.0), 0.0, 0),
        (Estimate(value=2.0, low=1.0), 0.0, 1),
        (Estimate(value=2.0, high=3.0), 0.0, 0),
        (Estimate(value=-2.0, high=-1.0), 0.0, -1),
        (Estimate(value=None, low=1.0, high=3.0, status="bounded"), 0.0, 1),
        (Estimate(value=0.9, low=0.8, high=0.95), 1.0, -1),
        (Estimate(value=2.0), 0.0, None),
        (assumed(2.0, low=1.0, high=3.0, why=refused("so")), 0.0, None),
        (no_estimate(refused("none")), 0.0, None),
    ],
)
def test_side(told: Estimate, null: float, side: int | None) -> None:
    assert told.side(null) == side


@pytest.mark.parametrize(("low", "high", "any_"), [(0.0, 1.0, True), (0.0, 0.95, False), (0.03, 0.99, True)])
def test_an_interval_that_says_nothing(low: float, high: float, any_: bool) -> None:
    assert may_be_any_share(Estimate(value=0.5, low=low, high=high)) == any_
    assert not may_be_any_share(Estimate(value=0.5, low=low))


def test_an_estimate_is_at_95_percent_unless_said_and_tells_how_it_was_found() -> None:
    told = Estimate(value=2.0, low=1.0, method=refused("so")).to_dict()
    assert told["level"] == 0.95
    assert told["method"] == refused("so")
    assert Estimate(value=2.0).to_dict()["method"] == ""
