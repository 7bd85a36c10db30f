"""The smooth test of fit: its covariance against drawn readings, and how often it rejects a law that is true."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.wear.families import law_masses
from wearstats.analysis.wear.likelihood import WearLikelihood, _told_by_waves, _waves

THETA = np.array([np.log(0.25 / 0.75), 1.0, np.log(5.0), np.log(1.4), np.log(35.0)])


def drawn(size: int, sd: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    wear = np.where(rng.random(size) < 0.25, 0.0, rng.gamma(1.4, 35.0 / 1.4, size))
    return np.asarray(rng.normal(1.0, 5.0, size) + wear + rng.normal(0.0, sd, size))


def test_polynomials_of_even_ranks_are_uncorrelated_and_of_unit_variance() -> None:
    # Gauss and Legendre's points integrate their products exactly
    points, weights = np.polynomial.legendre.leggauss(20)
    waves = _waves((points + 1) / 2)
    assert (waves.T * weights / 2) @ waves == pytest.approx(np.eye(8), abs=1e-12)
    assert weights @ waves == pytest.approx(np.zeros(8), abs=1e-12)


@pytest.mark.parametrize("sd", [1.2, 7.0])
def test_what_fitting_takes_from_the_polynomials_is_what_drawn_readings_show(sd: float) -> None:
    read = drawn(60_000, sd, 1)
    likelihood = WearLikelihood(read[:4000], np.full(4000, sd))
    masses, slopes = law_masses("gamma", THETA, likelihood.cells)
    told = _told_by_waves(masses, slopes, sd / likelihood.cells.width_um)
    # independent: ranks among the drawn ones themselves, and the scores of readings by the likelihood
    rank = np.searchsorted(np.sort(read), likelihood.y) / read.size
    waves, scores = _waves(rank), likelihood.scores("gamma", THETA)[1]
    both = np.cov(np.concatenate([waves, scores], axis=1).T)
    left = both[:8, :8] - both[:8, 8:] @ np.linalg.solve(both[8:, 8:], both[8:, :8])
    assert told == pytest.approx(left, abs=0.08)


@pytest.mark.parametrize("sds", [(4.0, 4.0), (2.0, 9.0)])
def test_a_true_law_is_rejected_about_as_often_as_said(sds: tuple[float, float]) -> None:
    found = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sd = rng.choice(sds, 250)
        likelihood = WearLikelihood(drawn(250, 0.0, 100 + seed) + rng.normal(0.0, sd), sd)
        found.append(likelihood.fit("gamma", thorough=False).fit_p)
    # of 40 at 5 % more than 6 come once in two hundred; their middle lies about the middle
    assert np.sum(np.array(found) < 0.05) <= 6
    assert 0.3 < np.median(found) < 0.7
