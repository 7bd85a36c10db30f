import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearstats.domain.tolerances.limits_fits import Fit, Zone
from wearstats.domain.tolerances.selective_assembly import (
    Grouping,
    clearance_probability_normal,
    clearance_probability_uniform,
)

widths = st.floats(1, 200)


def _fit(hub: float, shaft: float, top: float) -> Fit:
    return Fit(hub=Zone(low_um=0, high_um=hub), shaft=Zone(low_um=top - shaft, high_um=top))


@given(hub=widths, shaft=widths, top=st.floats(-100, 100))
def test_probabilities_rise_from_nought_to_one_and_are_even_about_the_mean(
    hub: float, shaft: float, top: float
) -> None:
    limits = _fit(hub, shaft, top)
    at_most = np.linspace(limits.low_um - 10, limits.high_um + 10, 201)
    chance = clearance_probability_uniform(limits, at_most)
    assert chance[0] == 0
    assert chance[-1] == pytest.approx(1)
    assert (np.diff(chance) >= -1e-9).all()
    np.testing.assert_allclose(chance + chance[::-1], 1, atol=1e-9)
    assert clearance_probability_normal(limits, limits.mean_um) == pytest.approx(0.5)


@given(hub=widths, shaft=widths, classes=st.integers(1, 12))
def test_grouped_clearances_stay_within_range_and_drift(hub: float, shaft: float, classes: int) -> None:
    grouping = Grouping(hub_tolerance_um=hub, shaft_tolerance_um=shaft, classes=classes)
    reach = grouping.range_um / 2 + abs(grouping.drift_um) * (classes - 1) / 2
    assert grouping.probability_within(reach + 1e-6) == pytest.approx(1)
    assert 0 <= grouping.probability_within(reach / 2) <= 1 + 1e-12
