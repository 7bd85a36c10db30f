"""Chances of random and grouped pairs; every number derived from the law stated beside it."""

from statistics import NormalDist

import numpy as np
import pytest

from wearstats.domain.tolerances.limits_fits import fit
from wearstats.domain.tolerances.selective_assembly import (
    Grouping,
    clearance_probability_normal,
    clearance_probability_uniform,
    interference_probability,
    mean_excess_uniform_um,
    probability_at_most,
)


@pytest.mark.parametrize(
    ("nominal_mm", "designation", "at_most_um", "uniform", "normal"),
    [
        # limits of ISO 286-1 and ISO 14:1982; trapezoid law, and normal law with tolerance = 6 sigma (derived)
        (6, "H9/h10", 25.4, 0.224014, 0.074708),
        (6, "H9/h10", 10.0, 0.034722, 0.001056),
        (6, "H11/h10", 25.4, 0.089606, 0.007498),
        (32, "H7/k6", 0.0, 0.400000, 0.306652),
    ],
)
def test_random_pairs(nominal_mm: float, designation: str, at_most_um: float, uniform: float, normal: float) -> None:
    limits = fit(nominal_mm, designation)
    assert float(clearance_probability_uniform(limits, at_most_um)) == pytest.approx(uniform, abs=1e-6)
    assert clearance_probability_normal(limits, at_most_um) == pytest.approx(normal, abs=1e-6)


def test_interference_of_normal_parts() -> None:
    # derived: hub N(1.005, 0.003), shaft N(0.995, 0.004); at most 1 of 20 independent pairs interferes
    each = interference_probability(NormalDist(1.005, 0.003), NormalDist(0.995, 0.004))
    assert each == pytest.approx(0.022750, abs=1e-6)
    assert probability_at_most(1, of=20, each=each) == pytest.approx(0.924967, abs=1e-6)


@pytest.mark.parametrize(("classes", "probability"), [(1, 0.305556), (3, 0.75), (6, 1.0)])
def test_selective_assembly(classes: int, probability: float) -> None:
    # derived for equal steps (Mansoor 1961): both tolerances 30 um, within 5 um of the mean
    grouping = Grouping(hub_tolerance_um=30, shaft_tolerance_um=30, classes=classes)
    assert grouping.probability_within(5.0) == pytest.approx(probability, abs=1e-6)
    assert grouping.range_um == 60 / classes
    assert grouping.drift_um == 0


def test_classes_drift_where_tolerances_differ() -> None:
    # derived: the mean moves by (T_h - T_s)/m a class
    grouping = Grouping(hub_tolerance_um=40, shaft_tolerance_um=20, classes=4)
    assert (grouping.range_um, grouping.drift_um) == (15.0, 5.0)


def test_grouped_pairs_against_drawn_ones() -> None:
    rng = np.random.default_rng(20261125)
    hub, shaft = rng.uniform(0, 10, (2, 4, 50_000))
    hub += 10 * np.arange(4)[:, np.newaxis]
    shaft = shaft / 2 + 5 * np.arange(4)[:, np.newaxis]
    clearance = hub - shaft - 10.0
    drawn = (np.abs(clearance) <= 6.0).mean()
    grouping = Grouping(hub_tolerance_um=40, shaft_tolerance_um=20, classes=4)
    # 200 000 draws: one standard error is 0.0011
    assert grouping.probability_within(6.0) == pytest.approx(drawn, abs=0.005)


@pytest.mark.parametrize(("sizes", "excess"), [(1, 50), (2, 25), (3, 16.67), (4, 12.5), (5, 10)])
def test_equally_spaced_sizes(sizes: int, excess: float) -> None:
    # derived: uniform wear over 100 um
    assert mean_excess_uniform_um(100, sizes) == pytest.approx(excess, abs=0.005)
    wear = np.linspace(0, 100, 100_001)
    undersizes = np.arange(sizes) * 100 / sizes  # every shaft gets the hub that is tight enough and no tighter
    served = undersizes[np.searchsorted(undersizes, wear, side="right") - 1]
    assert (wear - served).mean() == pytest.approx(excess, abs=0.01)


def test_probabilities_of_an_array() -> None:
    limits = fit(6, "H9/h10")
    at_most = np.array([-1.0, 0.0, 39.0, 78.0, 1e9])
    np.testing.assert_allclose(clearance_probability_uniform(limits, at_most), [0, 0, 0.5, 1, 1], atol=1e-12)
