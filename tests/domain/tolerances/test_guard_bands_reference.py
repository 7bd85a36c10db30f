"""Combined uncertainty, guard bands and conformance against the GUM, ISO 14253-1 and JCGM 106."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from wearstats.domain.tolerances.guard_bands import (
    Contribution,
    acceptance_limits_um,
    combined_um,
    conformance_probability,
    expansion_um,
    rectangular_um,
    rounding_um,
)
from wearstats.errors import InputError

HOME = [
    Contribution(source="home user's scatter", u_um=5.0),
    Contribution(source="limit of error of the micrometer", u_um=rectangular_um(4.0)),
    Contribution(source="thimble read to 0.01 mm", u_um=rounding_um(10.0)),
    Contribution(source="6 mm within 10 K", u_um=rectangular_um(expansion_um(6.0, 10.0))),
]
HUB = [
    Contribution(source="trained hand's scatter", u_um=2.0),
    Contribution(source="limit of error of the micrometer", u_um=rectangular_um(4.0)),
    Contribution(source="read to 0.001 mm", u_um=rounding_um(1.0)),
    Contribution(source="6 mm within 3 K", u_um=rectangular_um(expansion_um(6.0, 3.0))),
]


@pytest.mark.parametrize(("step_um", "u_um"), [(10.0, 2.887), (1.0, 0.289), (25.4, 7.332), (2.54, 0.733)])
def test_rounding_is_the_step_over_root_twelve(step_um: float, u_um: float) -> None:
    # derived: JCGM 100:2008, F.2.2.1
    assert rounding_um(step_um) == pytest.approx(u_um, abs=5e-4)


def test_limit_of_error_of_a_micrometer_is_rectangular() -> None:
    # DIN 863: 4 um for 0 to 25 mm; JCGM 100:2008, 4.3.7: over root three
    assert rectangular_um(4.0) == pytest.approx(2.309, abs=5e-4)


def test_steel_grows_with_warmth() -> None:
    # derived from 11.5 ppm/K
    assert expansion_um(6.0, 10.0) == pytest.approx(0.69, abs=1e-9)
    assert expansion_um(32.0, 10.0) == pytest.approx(3.68, abs=1e-9)


def test_home_user_s_uncertainty() -> None:
    # derived: JCGM 100:2008, 5.1.2, from scatter 5, limit of error 4, step 10 um and 6 mm within 10 K
    assert combined_um(HOME) == pytest.approx(6.2310, abs=5e-5)
    assert 2 * combined_um(HOME) == pytest.approx(12.462, abs=5e-4)


def test_clearance_adds_the_hub_s_uncertainty() -> None:
    # derived likewise; the hub's part (scatter 2, limit of error 4, step 1 um, 3 K) was worked back from the total
    assert combined_um([*HOME, *HUB]) == pytest.approx(6.9467, abs=1e-4)
    assert 2 * combined_um([*HOME, *HUB]) == pytest.approx(13.893, abs=1e-3)


def test_averaging_leaves_the_bias() -> None:
    # JCGM 100:2008, 4.2.3: the variance of a mean of n; a shared bias is one contribution, read once
    bias = Contribution(source="bias", u_um=7.0)
    many = Contribution(source="scatter", u_um=5.0, readings=10**6)
    assert combined_um([bias, many]) == pytest.approx(7.0, abs=1e-4)
    assert combined_um([bias, Contribution(source="scatter", u_um=5.0, readings=25)]) == pytest.approx(50**0.5)


def test_guard_band_of_one_thou() -> None:
    # ISO 14253-1 with 1.65 u: 25.4 - 8.25 um
    low, high = acceptance_limits_um(high_um=25.4, u_um=5.0)
    assert low is None
    assert high == pytest.approx(17.15)


def test_at_the_guarded_limit_one_in_twenty_is_wrong() -> None:
    _, high = acceptance_limits_um(high_um=25.4, u_um=5.0)
    assert high is not None
    # independent: the normal distribution's 0.95 quantile is 1.645
    assert conformance_probability(high, u_um=5.0, high_um=25.4) == pytest.approx(stats.norm.cdf(1.65), abs=1e-12)


@pytest.mark.parametrize(
    ("read", "u", "low", "high", "probability"),
    [
        (20.0, 5.0, None, 25.4, 0.859929),  # derived: one-sided, JCGM 106:2012, 7.2
        (13.6, 1.8, 12.5, 16.3, 0.662630),  # input of JCGM 106:2012, 7.4; digits derived
        (0.0, 6.0, -15.0, 5.0, 0.791462),  # derived: two-sided, JCGM 106:2012, 7.4
    ],
)
def test_conformance_probability(
    read: float, u: float, low: float | None, high: float | None, probability: float
) -> None:
    found = float(conformance_probability(read, u_um=u, low_um=low, high_um=high))
    assert found == pytest.approx(probability, abs=5e-7)
    # independent: the density integrated
    ends = (-60.0 if low is None else low, 60.0 if high is None else high)
    assert found == pytest.approx(integrate.quad(stats.norm(read, u).pdf, *ends)[0], abs=1e-8)


def test_far_tails_keep_their_digits_on_both_sides() -> None:
    above = float(conformance_probability(0.0, u_um=1.0, low_um=10.0))
    below = float(conformance_probability(0.0, u_um=1.0, high_um=-10.0))
    assert above == pytest.approx(float(stats.norm.sf(10.0)), rel=1e-10)
    assert below == pytest.approx(above, rel=1e-12)


def test_without_doubt_the_limits_decide() -> None:
    assert conformance_probability([-1.0, 0.0, 5.0, 6.0], u_um=0.0, low_um=0.0, high_um=5.0).tolist() == [0, 1, 1, 0]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="leave room"):
        acceptance_limits_um(low_um=0.0, high_um=10.0, u_um=5.0)
    with pytest.raises(InputError, match="limits: none"):
        conformance_probability(1.0, u_um=1.0)
    with pytest.raises(InputError, match="above high"):
        conformance_probability(1.0, u_um=1.0, low_um=2.0, high_um=1.0)
    with pytest.raises(InputError, match="0 or more"):
        rounding_um(np.nan)
