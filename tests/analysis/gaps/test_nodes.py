"""Draws reduced to nodes keep what the likelihood needs: means, spreads, and how fittings of a shaft go together."""

import numpy as np
import pytest
from scipy.special import roots_hermitenorm

from wearstats.analysis.gaps.nodes import reduce_draws


def test_single_fittings_keep_mean_and_spread() -> None:
    draws = np.abs(np.random.default_rng(1).normal(20, 8, (50, 320)))
    nodes = reduce_draws(draws, np.arange(50))
    assert nodes.value_um.shape == (50, 32)
    assert nodes.mean_um == pytest.approx(draws.mean(axis=1), abs=1e-9)
    assert nodes.value_um.std(axis=1) == pytest.approx(draws.std(axis=1), rel=0.01)
    assert (nodes.value_um >= 0).all()


def test_fittings_of_a_shaft_stay_together() -> None:
    rng = np.random.default_rng(2)
    common = rng.normal(0, 6, (100, 1, 320))
    own = rng.normal(0, 3, (100, 2, 320))
    draws = (20 + common + own).reshape(200, 320)
    nodes = reduce_draws(draws, np.repeat(np.arange(100), 2))
    assert nodes.mean_um == pytest.approx(draws.mean(axis=1), abs=1e-9)
    pairs = nodes.value_um.reshape(100, 2, 32)
    correlation = np.mean([np.asarray(np.corrcoef(pair))[0, 1] for pair in pairs])
    assert correlation == pytest.approx(36 / 45, abs=0.05)


def test_average_of_a_survival_is_the_integral() -> None:
    # against Gauss-Hermite quadrature: E exp(-exp(0.06 g - 2)), g normal with mean 20 and SD 6
    draws = np.random.default_rng(3).normal(20, 6, (400, 320))
    nodes = reduce_draws(draws, np.arange(400)).value_um
    point, weight = roots_hermitenorm(40)
    exact = float(weight @ np.exp(-np.exp(0.06 * (20 + 6 * point) - 2)) / weight.sum())
    assert np.exp(-np.exp(0.06 * nodes - 2)).mean() == pytest.approx(exact, abs=2e-3)


def test_draws_that_cannot_be_cut_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be cut"):
        reduce_draws(np.zeros((2, 100)), np.arange(2))
