"""Where a count lies against what was expected of it."""

from __future__ import annotations

from enum import StrEnum

from wearstats.analysis.estimate import Estimate

SURE = 0.95
"""Coverage of the range against which a count is judged."""


class Standing(StrEnum):
    """Where a count lies."""

    INSIDE = "inside"
    ABOVE = "above"
    BELOW = "below"
    UNKNOWN = "unknown"


def standing_of(seen: int, expected: Estimate | None) -> Standing:
    """Say where a count lies against a prediction interval, whose ends belong to it.

    Parameters
    ----------
    seen : int
        How many were seen.
    expected : Estimate or None
        How many were expected; one without an interval tells nothing.
    """
    if expected is None or expected.low is None or expected.high is None:
        return Standing.UNKNOWN
    if seen > expected.high:
        return Standing.ABOVE
    return Standing.BELOW if seen < expected.low else Standing.INSIDE
