"""Roots are roots, and do not hang on which of equal directions an eigensolver gives first."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.linalg import sqrtm

from wearstats.analysis.numerics.covariance_roots import symmetric_root, widest_last_root
from wearstats.domain.arrays import FloatArray

ROOTS = [symmetric_root, widest_last_root]


def alike(units: int = 3, splines: int = 8, stations: int = 3) -> FloatArray:
    """Covariances of splines that nothing tells apart, as maps have them; shape (units, places, places)."""
    of_station = np.eye(stations) + 0.5
    apart, shared = 20.0 + 5.0 * np.arange(units), 90.0
    each = np.kron(np.eye(splines), of_station)
    return np.array([a * each + shared * np.ones_like(each) for a in apart])


@pytest.mark.parametrize("root", ROOTS)
def test_a_root_makes_its_covariance(root: Callable[[FloatArray], FloatArray]) -> None:
    rng = np.random.default_rng(1)
    thin = rng.standard_normal((4, 6, 3))
    for covariance in (alike(), thin @ np.swapaxes(thin, 1, 2)):
        found = root(covariance)
        np.testing.assert_allclose(found @ np.swapaxes(found, 1, 2), covariance, atol=1e-9)


def test_the_symmetric_root_is_that_of_a_general_library() -> None:
    # scipy.linalg.sqrtm: Schur method, no eigenvectors of a symmetric matrix in it
    covariance = alike()
    np.testing.assert_allclose(symmetric_root(covariance), [sqrtm(one).real for one in covariance], atol=1e-8)


@pytest.mark.parametrize("root", ROOTS)
def test_equal_directions_are_not_picked_at_random(root: Callable[[FloatArray], FloatArray]) -> None:
    # a touch far below any rounding of the readings makes an eigensolver turn equal directions at will
    covariance = alike()
    touch = 1e-10 * np.random.default_rng(2).standard_normal(covariance.shape)
    touched = covariance + touch + np.swapaxes(touch, 1, 2)
    np.testing.assert_allclose(root(touched), root(covariance), atol=1e-8)
    vectors = np.linalg.eigh(covariance)[1]
    assert not np.allclose(np.abs(np.linalg.eigh(touched)[1]), np.abs(vectors), atol=1e-2)


def test_the_last_column_is_the_widest_direction() -> None:
    covariance = alike()
    last = widest_last_root(covariance)[..., -1]
    # all places alike: their common part, whose variance is the sum of a row
    np.testing.assert_allclose(last, np.sqrt(covariance.sum(axis=2)[:, :1] / 24) * np.ones(24), rtol=1e-9)
