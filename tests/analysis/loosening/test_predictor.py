"""A fitted law as predictions use it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearstats.analysis.loosening.predictor import LineTerm, LooseningLaw

LAW = LooseningLaw(
    names=(),
    covariate_means=np.zeros(0),
    parameters=np.array([-3.0, 0.1, 0.2, 0.0]),
    covariance=np.diag([0.1, 0.09, 0.05, 0.05]) + 0.02 * (1 - np.eye(4)),
    term=LineTerm(centre_um=10.0),
)


def test_a_slope_that_is_never_negative_has_the_moments_of_draws_that_are_not() -> None:
    found = LAW.never_safer_wider()
    drawn = np.random.default_rng(10).multivariate_normal(LAW.parameters, LAW.covariance, size=400_000)
    kept = drawn[drawn[:, 1] >= 0]
    np.testing.assert_allclose(found.parameters, kept.mean(axis=0), atol=0.003)
    np.testing.assert_allclose(found.covariance, np.cov(kept.T), atol=0.003)


def test_a_slope_that_is_well_known_stays_as_it_was_fitted() -> None:
    sure = replace(LAW, parameters=np.array([-3.0, 2.5, 0.2, 0.0]))
    np.testing.assert_allclose(sure.never_safer_wider().parameters, sure.parameters, rtol=1e-9)
    np.testing.assert_allclose(sure.never_safer_wider().covariance, sure.covariance, rtol=1e-9)


def test_a_law_of_another_form_stays() -> None:
    curved = replace(LAW, term=lambda gap: np.stack([gap, gap**2], axis=-1))
    assert curved.never_safer_wider() is curved
