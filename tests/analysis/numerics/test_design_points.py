"""A few points stand for a posterior density: moments of the normal law, of priors, and of densities that are skew."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from wearstats.analysis.numerics.design_points import (
    exponential_of_normal,
    normal_of_exponential,
    place_points,
    standard_design,
)
from wearstats.domain.arrays import FloatArray


@pytest.mark.parametrize("axes", [3, 4, 7, 10, 13])
def test_the_design_has_the_moments_of_the_normal_law(axes: int) -> None:
    points, weights = standard_design(axes)
    assert weights.min() >= 0
    assert weights.sum() == pytest.approx(1.0)
    assert len(weights) <= 59
    powers = [weights @ points**power for power in (1, 2, 3, 4, 5)]
    np.testing.assert_allclose(np.array(powers), np.array([0, 1, 0, 3, 0])[:, None] * np.ones(axes), atol=1e-12)
    products = (points * weights[:, None]).T @ points
    np.testing.assert_allclose(products, np.eye(axes), atol=1e-12)
    squares = (points**2 * weights[:, None]).T @ points**2
    np.testing.assert_allclose(squares, np.ones((axes, axes)) + 2 * np.eye(axes), atol=1e-12)
    triples = np.einsum("k,ki,kj,kl->ijl", weights, points, points, points)
    np.testing.assert_allclose(triples, 0.0, atol=1e-12)


def test_an_exponential_law_is_a_normal_one_bent() -> None:
    normal, mean = np.array([-3.0, -0.5, 0.0, 1.0, 4.0]), np.array([2.0, 1.0, 5.0, 0.3, 2.0])
    value, slope, bend = exponential_of_normal(normal, mean)
    np.testing.assert_allclose(stats.expon.cdf(value, scale=mean), stats.norm.cdf(normal), rtol=1e-12)
    np.testing.assert_allclose(normal_of_exponential(value, mean), normal, atol=1e-12)
    step = 1e-5
    above, below = (exponential_of_normal(normal + sign * step, mean) for sign in (1, -1))
    np.testing.assert_allclose(slope, (above[0] - below[0]) / (2 * step), rtol=1e-6)
    np.testing.assert_allclose(bend, (above[1] - below[1]) / (2 * step), rtol=1e-6)


@pytest.mark.parametrize("axes", [3, 7, 13])
def test_what_data_say_nothing_of_keeps_the_mean_square_of_its_prior(axes: int) -> None:
    points, weights = standard_design(axes)
    value = exponential_of_normal(points, np.full(axes, 5.0))[0]
    np.testing.assert_allclose(weights @ value, 5.0, rtol=0.003)
    np.testing.assert_allclose(weights @ value**2, 50.0, rtol=0.005)


def of_counts(sums: FloatArray, freedom: FloatArray) -> tuple[object, object]:
    """Give the density of spreads with exponential priors of mean 5, by sums of squares about 0."""
    mean = np.full(sums.size, 5.0)

    def slopes(places: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        value, slope, bend = exponential_of_normal(places, mean)
        by = freedom / value - sums / value**3
        curvature = (3 * sums / value**4 - freedom / value**2) * slope**2 + by * bend + 1
        height = float(np.sum(freedom * np.log(value) + 0.5 * sums / value**2 + 0.5 * places**2))
        return height, places + by * slope, np.diag(np.maximum(curvature, 0.5))

    return lambda places: slopes(places)[0], slopes


def test_points_give_the_posterior_means_of_variances() -> None:
    # a spread of which nothing, little and much is told; against a fine grid of each
    freedom = np.array([0.0, 1.0, 3.0, 9.0, 40.0])
    sums = freedom * np.array([0.0, 16.0, 1.0, 100.0, 9.0])
    height, slopes = of_counts(sums, freedom)
    found = place_points(height, slopes, np.zeros(5))  # type: ignore[arg-type]
    value = exponential_of_normal(found.points, np.full(5, 5.0))[0]
    at = np.geomspace(1e-3, 500, 20_001)
    for k in range(5):
        log = (1 - freedom[k]) * np.log(at) - 0.5 * sums[k] / at**2 - at / 5.0
        density = np.exp(log - log.max())
        wanted = np.sqrt(density @ at**2 / density.sum())
        assert np.sqrt(found.weights @ value[:, k] ** 2) == pytest.approx(wanted, rel=0.12)
    assert found.left[0] == pytest.approx(1.0, abs=0.1)
    assert np.all(np.diff(found.left) < 0)
    assert found.left[-1] < 0.05
