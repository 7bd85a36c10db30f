"""The law of wear agrees with a published mixture, with quadrature, and with the truth of invented fleets."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from tests.analysis.reference_frames import reference_frame
from wearstats.analysis.wear_mixture import FAMILIES, LEAST_SHAFTS, _Likelihood, fit_wear_mixture
from wearstats.errors import AnalysisError


def _fleet(size: int, *, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A fifth unworn, the others gamma of shape 2 and mean 40 um, new ones spread by 6 um; read to 4 to 8 um."""
    wear = np.where(rng.random(size) < 0.2, 0.0, rng.gamma(2.0, 20.0, size))
    true = rng.normal(0.0, 6.0, size) + wear
    sd = rng.uniform(4.0, 8.0, size)
    return true, true + rng.normal(0.0, sd), sd


def test_two_humps_come_apart_as_published() -> None:
    # Waiting times of a geyser: A. Azzalini, A. W. Bowman, Applied Statistics 39 (1990) 357-365; two normals fitted by
    # T. Benaglia et al., J. Stat. Softw. 32(6) (2009): weights 0.361 and 0.639, means 54.61 and 80.09, standard
    # deviations 5.871 and 5.868, log likelihood -1034.00. Equal spreads are a "wear" that is nearly a constant.
    waiting = reference_frame("geyser_waiting.csv")["waiting"].to_numpy(dtype=float)
    law = fit_wear_mixture(waiting - 54.6149, np.zeros(waiting.size), unworn=False).law
    assert law.unworn == pytest.approx(0.360886, abs=0.01)
    assert law.new_mean_um == pytest.approx(0.0, abs=0.3)
    assert law.new_mean_um + law.mean_um == pytest.approx(80.0911 - 54.6149, abs=0.3)
    assert law.new_sd_um == pytest.approx(5.87, abs=0.3)
    log_likelihood = np.log(law.density(waiting - 54.6149)).sum()
    assert -1034.8 < log_likelihood < -1033.9


@pytest.mark.parametrize("family", FAMILIES)
def test_density_is_that_of_quadrature(family: str) -> None:
    shape, mean, unworn, new_mean, new_sd = 1.4, 35.0, 0.25, 1.0, 5.0
    wear = {
        "gamma": stats.gamma(shape, scale=mean / shape),
        "weibull": stats.weibull_min(shape, scale=mean / stats.weibull_min(shape).mean()),
        "lognormal": stats.lognorm(shape, scale=mean / np.exp(shape**2 / 2)),
    }[family]
    theta = np.array([np.log(unworn / (1 - unworn)), new_mean, np.log(new_sd), np.log(shape), np.log(mean)])
    for below, sd in ((-6.0, 4.0), (10.0, 7.0), (60.0, 5.0)):
        spread = np.hypot(new_sd, sd)
        at = stats.norm(new_mean, spread)
        worn = integrate.quad(lambda w, b=below, n=at: wear.pdf(w) * n.pdf(b - w), 0, 500, limit=500, epsabs=1e-12)[0]
        expected = unworn * at.pdf(below) + (1 - unworn) * worn
        likelihood = _Likelihood(np.array([below]), np.array([sd]), new_sd_um=None)
        none = _Likelihood(np.array([below]), np.array([sd]), new_sd_um=None)
        none.count = np.zeros(1)
        found = np.exp(none.minus_log(family, theta) - likelihood.minus_log(family, theta)) / np.sqrt(2 * np.pi)
        assert found == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("family", FAMILIES)
def test_slope_is_that_of_differences(family: str) -> None:
    _, read, sd = _fleet(50, rng=np.random.default_rng(3))
    likelihood = _Likelihood(read, sd, new_sd_um=None)
    theta = np.array([-1.0, 0.5, 1.7, 0.3, 3.6])
    differences = optimize.approx_fprime(theta, lambda at: likelihood.minus_log(family, at), 1e-6)
    assert likelihood.with_slope(family, theta)[1] == pytest.approx(differences, rel=1e-3, abs=1e-2)


def test_quantile_undoes_cumulative() -> None:
    _, read, sd = _fleet(200, rng=np.random.default_rng(4))
    law = fit_wear_mixture(read, sd, unworn=False).law
    for probability in (0.02, 0.3, 0.97):
        assert law.cumulative(np.array(law.quantile(probability))) == pytest.approx(probability, abs=1e-6)
    at = np.linspace(-60, 1500, 20001)
    assert integrate.trapezoid(law.density(at), at) == pytest.approx(1.0, abs=1e-3)


def test_counting_into_cells_changes_little() -> None:
    _, read, sd = _fleet(6000, rng=np.random.default_rng(5))
    counted = fit_wear_mixture(read, sd, unworn=False)
    likelihood = _Likelihood(read[:1], sd[:1], new_sd_um=None)
    likelihood.y, likelihood.sd, likelihood.count = read, sd, np.ones(read.size)
    exact = likelihood.fit(counted.law.family)
    for probability in (0.1, 0.5, 0.9):
        assert counted.law.quantile(probability) == pytest.approx(exact.quantile(probability), abs=0.1)
    assert counted.law.unworn == pytest.approx(exact.unworn, abs=0.01)


def test_a_large_fleet_gives_back_its_law() -> None:
    true, read, sd = _fleet(20_000, rng=np.random.default_rng(6))
    mixture = fit_wear_mixture(read, sd)
    assert mixture.law.family == "gamma"
    assert mixture.unworn_share.low is not None
    assert mixture.unworn_share.high is not None
    assert mixture.unworn_share.low < 0.2 < mixture.unworn_share.high
    assert mixture.unworn_share.high - mixture.unworn_share.low < 0.1
    for probability in (0.1, 0.5, 0.9):
        found = mixture.quantile_um(probability, common_se_um=0.0)
        assert found.value == pytest.approx(np.quantile(true, probability), abs=0.8)
    # the histogram of what was read is wider than the truth, and the law is not
    assert np.quantile(read, 0.05) < mixture.law.quantile(0.05) - 1.0


def test_unworn_and_little_worn_are_not_told_apart_where_they_cannot_be() -> None:
    rng = np.random.default_rng(7)
    wear = np.where(rng.random(60) < 0.3, 0.0, rng.gamma(1.0, 4.0, 60))
    share = fit_wear_mixture(wear + rng.normal(0.0, 6.0, 60) + rng.normal(0.0, 7.0, 60), np.full(60, 7.0)).unworn_share
    assert share.status == "none"
    assert share.value is None
    assert "cannot be told" in share.method


def test_a_set_spread_of_new_shafts_is_kept() -> None:
    _, read, sd = _fleet(200, rng=np.random.default_rng(8))
    assert fit_wear_mixture(read, sd, new_sd_um=3.0, unworn=False).law.new_sd_um == pytest.approx(3.0)


def test_too_few_shafts_are_refused() -> None:
    with pytest.raises(AnalysisError, match="too few"):
        fit_wear_mixture(np.arange(LEAST_SHAFTS - 1.0), np.ones(LEAST_SHAFTS - 1))
