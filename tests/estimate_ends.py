"""An estimate that must have a number, as three floats."""

from wearstats.analysis.estimate import Estimate


def three(estimate: Estimate | None) -> tuple[float, float, float]:
    """Low end, value, high end."""
    assert estimate is not None
    assert estimate.low is not None
    assert estimate.value is not None
    assert estimate.high is not None
    return estimate.low, estimate.value, estimate.high
