"""The shop's settings, and what a pattern has of its own."""

from __future__ import annotations

from dataclasses import replace

from wearstats.analysis.advice.limits import AdviceLimits


def test_a_pattern_may_have_its_own_depth_of_filing() -> None:
    limits = AdviceLimits(sure=0.8)
    assert limits.with_deepest(None) is limits
    assert limits.with_deepest(60.0) == replace(limits, deepest_um=60.0)
