"""The law of wear agrees with a published mixture, with quadrature, and with the truth of invented fleets."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.wear.families import FAMILIES, Cells, law_masses, worn_below
from wearstats.analysis.wear.likelihood import WearLikelihood
from wearstats.analysis.wear.mixture import LEAST_SHAFTS, _profile, fit_wear_mixture
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.errors import AnalysisError

SHAPE, MEAN, UNWORN, NEW_MEAN, NEW_SD = 1.4, 35.0, 0.25, 1.0, 5.0
THETA = np.array([np.log(UNWORN / (1 - UNWORN)), NEW_MEAN, np.log(NEW_SD), np.log(SHAPE), np.log(MEAN)])
LAWS = {
    "gamma": stats.gamma(SHAPE, scale=MEAN / SHAPE),
    "weibull": stats.weibull_min(SHAPE, scale=MEAN / stats.weibull_min(SHAPE).mean()),
    "lognormal": stats.lognorm(SHAPE, scale=MEAN / np.exp(SHAPE**2 / 2)),
}


def fleet(size: int, *, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A fifth unworn, the others gamma of shape 2 and mean 40 um, new ones spread by 6 um; read to 4 to 8 um."""
    wear = np.where(rng.random(size) < 0.2, 0.0, rng.gamma(2.0, 20.0, size))
    true = rng.normal(0.0, 6.0, size) + wear
    sd = rng.uniform(4.0, 8.0, size)
    return true, true + rng.normal(0.0, sd), sd


def test_two_humps_come_apart_as_published() -> None:
    # Waiting times of a geyser: A. Azzalini, A. W. Bowman, Applied Statistics 39 (1990) 357-365; two normals fitted by
    # T. Benaglia et al., J. Stat. Softw. 32(6) (2009): weights 0.361 and 0.639, means 54.61 and 80.09, standard
    # deviations 5.8712 and 5.8677, log likelihood -1034.002. Equal spreads are a "wear" that is nearly a constant.
    waiting = reference_frame("geyser_waiting.csv")["waiting"].to_numpy(dtype=float)
    # read without an error, so that they stand for the middles of their cells of one unit
    likelihood = WearLikelihood(waiting - 54.5, np.zeros(waiting.size))
    published = [np.log(0.360886 / 0.639114), 0.1149, np.log(5.8694), np.log(0.02), np.log(80.0911 - 54.6149)]
    log_densities, slopes = likelihood.scores("lognormal", np.array(published))
    # cells of one unit and what is left of the spread take 0.04 off it
    assert log_densities.sum() == pytest.approx(-1034.002, abs=0.05)
    # and there it is greatest: by a tenth of a standard error at most it would be greater elsewhere
    free = slopes[:, [0, 1, 2, 4]]
    assert np.abs(np.linalg.solve(free.T @ free, free.sum(axis=0)) * np.sqrt(np.diag(free.T @ free))).max() < 0.1
    # the weak prior of the shape lets the wear spread a little, so that the fit lies a sixth of a standard error off
    law = fit_wear_mixture(waiting - 54.6149, np.zeros(waiting.size), unworn=False).laws[0]
    assert law.unworn == pytest.approx(0.360886, abs=0.006)
    assert law.new_mean_um == pytest.approx(0.0, abs=0.05)
    assert law.new_mean_um + law.mean_um == pytest.approx(80.0911 - 54.6149, abs=0.05)
    assert law.new_sd_um == pytest.approx(5.87, abs=0.3)


@pytest.mark.parametrize("family", FAMILIES)
def test_shares_of_worn_shafts_are_those_of_a_reference_library(family: str) -> None:
    wear = np.array([0.0, 0.3, 4.0, 35.0, 120.0, 400.0])
    share, slopes = worn_below(family, SHAPE, MEAN, wear)
    assert share == pytest.approx(LAWS[family].cdf(wear), abs=1e-9)
    step = 1e-5
    by_shape = (worn_below(family, SHAPE * np.exp(step), MEAN, wear)[0] - share) / step
    by_mean = (worn_below(family, SHAPE, MEAN * np.exp(step), wear)[0] - share) / step
    assert slopes == pytest.approx(np.stack([by_shape, by_mean]), abs=2e-4)


@pytest.mark.parametrize("family", FAMILIES)
def test_density_is_that_of_quadrature(family: str) -> None:
    wear = LAWS[family]
    # the far tail as well: too coarse a sum there drags the whole fit
    for below, sd in ((-6.0, 4.0), (10.0, 7.0), (60.0, 5.0), (300.0, 7.0)):
        at = stats.norm(NEW_MEAN, np.hypot(NEW_SD, sd))
        near = [max(below - 80.0, 0.0), below + 80.0]
        worn = integrate.quad(lambda w, b=below, n=at: wear.pdf(w) * n.pdf(b - w), *near, limit=500, epsabs=1e-14)[0]
        expected = UNWORN * at.pdf(below) + (1 - UNWORN) * worn
        likelihood = WearLikelihood(np.array([below]), np.array([sd]))
        found = likelihood.kernel @ law_masses(family, THETA, likelihood.cells)[0]
        assert found[0] == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("family", FAMILIES)
def test_slopes_are_those_of_differences(family: str) -> None:
    _, read, sd = fleet(50, rng=np.random.default_rng(3))
    likelihood = WearLikelihood(read, sd)
    theta = np.array([-1.0, 0.5, 1.7, 0.3, 3.6])
    differences = optimize.approx_fprime(theta, lambda at: likelihood.with_slope(family, at)[0], 1e-6)
    assert likelihood.with_slope(family, theta)[1] == pytest.approx(differences, rel=1e-3, abs=1e-2)
    scores = likelihood.scores(family, theta)[1]
    for k, move in enumerate(1e-5 * np.eye(5)):
        up, down = (likelihood.scores(family, theta + sign * move)[0] for sign in (1, -1))
        assert scores[:, k] == pytest.approx((up - down) / 2e-5, abs=1e-4)


def test_masses_add_up_and_have_the_mean_of_the_law() -> None:
    cells = Cells(start_um=-60.0, width_um=1.0, count=1600)
    for family in FAMILIES:
        masses, slopes = law_masses(family, THETA, cells)
        assert masses.sum() == pytest.approx(1.0, abs=1e-3)
        assert masses @ cells.middles_um == pytest.approx(NEW_MEAN + (1 - UNWORN) * MEAN, abs=1.0)
        assert slopes.sum(axis=1) == pytest.approx(np.zeros(5), abs=3e-3)


def test_the_walk_ends_where_a_general_optimiser_does() -> None:
    _, read, sd = fleet(300, rng=np.random.default_rng(8))
    likelihood = WearLikelihood(read, sd)
    for family in FAMILIES:
        law = likelihood.fit(family)
        found = optimize.minimize(
            lambda at, of=family: likelihood.with_slope(of, at), law.parameters + 0.1, jac=True, method="BFGS"
        )
        assert likelihood.with_slope(family, law.parameters)[0] <= found.fun + 1e-3


def test_counting_into_cells_changes_little(monkeypatch: pytest.MonkeyPatch) -> None:
    _, read, sd = fleet(6000, rng=np.random.default_rng(5))
    counted = fit_wear_mixture(read, sd, unworn=False)
    assert counted.law.likelihood.y.size < 6000
    assert counted.law.likelihood.count.sum() == 6000
    monkeypatch.setattr("wearstats.analysis.wear.likelihood._MANY", 10_000)
    exact = fit_wear_mixture(read, sd, unworn=False)
    for probability in (0.1, 0.5, 0.9):
        assert counted.law.quantile(probability) == pytest.approx(exact.law.quantile(probability), abs=0.1)
    assert counted.laws[0].unworn == pytest.approx(exact.laws[0].unworn, abs=0.01)


def test_a_large_fleet_gives_back_its_law() -> None:
    true, read, sd = fleet(20_000, rng=np.random.default_rng(6))
    mixture = fit_wear_mixture(read, sd)
    assert mixture.laws[0].family == "gamma"
    assert mixture.unworn_share.low is not None
    assert mixture.unworn_share.high is not None
    assert mixture.unworn_share.low < 0.2 < mixture.unworn_share.high
    assert mixture.unworn_share.high - mixture.unworn_share.low < 0.1
    asked = (0.1, 0.5, 0.9)
    for probability, found in zip(asked, mixture.law.quantiles_um(asked, common_se_um=0.0), strict=True):
        assert found.value == pytest.approx(np.quantile(true, probability), abs=0.8)
    # the histogram of what was read is wider than the truth, and the law is not
    assert np.quantile(read, 0.05) < mixture.law.quantile(0.05) - 1.0


def test_unworn_and_little_worn_are_not_told_apart_where_they_cannot_be() -> None:
    rng = np.random.default_rng(7)
    wear = np.where(rng.random(60) < 0.3, 0.0, rng.gamma(1.0, 4.0, 60))
    share = fit_wear_mixture(wear + rng.normal(0.0, 6.0, 60) + rng.normal(0.0, 7.0, 60), np.full(60, 7.0)).unworn_share
    assert share.status == "none"
    assert share.value is None
    assert share.code == WearRemark.UNWORN_NOT_TOLD


def test_the_unworn_share_is_refused_where_no_family_fits() -> None:
    rng = np.random.default_rng(9)
    lumps = np.where(rng.random(400) < 0.5, rng.normal(25.0, 6.0, 400), rng.normal(75.0, 10.0, 400))
    lost = rng.normal(0.0, 6.0, 400) + np.where(rng.random(400) < 0.2, 0.0, lumps)
    mixture = fit_wear_mixture(lost + rng.normal(0.0, 6.0, 400), np.full(400, 6.0))
    assert mixture.unworn_share.status == "none"
    assert max(law.fit_p for law in mixture.laws) < 0.05
    # the quantiles hold all the same
    for found, probability in zip(mixture.law.quantiles_um((0.1, 0.9), common_se_um=0.0), (0.1, 0.9), strict=True):
        assert found.low is not None
        assert found.high is not None
        assert found.low < np.quantile(lost, probability) < found.high


def test_the_test_of_fit_keeps_its_level() -> None:
    found = []
    for seed in range(60):
        _, read, sd = fleet(120, rng=np.random.default_rng([10, seed]))
        found.append(WearLikelihood(read, sd).fit("gamma", thorough=False).fit_p)
    # 60 tests at one in ten: six expected, 13 or more in one of 300
    assert sum(p < 0.1 for p in found) <= 12
    assert 0.35 < np.mean(found) < 0.65


def test_a_set_spread_of_new_shafts_is_kept() -> None:
    _, read, sd = fleet(200, rng=np.random.default_rng(8))
    mixture = fit_wear_mixture(read, sd, new_sd_um=3.0, unworn=False)
    assert mixture.laws[0].new_sd_um == pytest.approx(3.0)


def test_too_few_shafts_are_refused() -> None:
    with pytest.raises(AnalysisError, match="too few"):
        fit_wear_mixture(np.arange(LEAST_SHAFTS - 1.0), np.ones(LEAST_SHAFTS - 1))


def test_the_interval_of_the_unworn_share_is_where_its_profile_has_fallen() -> None:
    _, read, sd = fleet(2000, rng=np.random.default_rng(11))
    likelihood = WearLikelihood(read, sd)
    law = likelihood.fit("gamma")
    best = likelihood.with_slope("gamma", law.parameters)[0]
    for end in _profile(likelihood, law):
        assert 0 < end < 1
        # the root of the fall is found to 2 %
        held, _ = likelihood.maximise("gamma", law.parameters, {0: float(np.log(end / (1 - end)))})
        assert np.sqrt(2 * (held - best)) == pytest.approx(1.959964, rel=0.03)
    # where all are worn by about as much as new ones spread, the share may be nought
    rng = np.random.default_rng(12)
    few = WearLikelihood(rng.gamma(2.0, 8.0, 60) + rng.normal(0.0, 8.0, 60), np.full(60, 5.0))
    low, high = _profile(few, few.fit("weibull"))
    assert low == 0.0
    assert high <= 1.0


def test_intervals_of_a_few_shafts_reach_as_far_as_their_degrees_of_freedom_say() -> None:
    for shafts in (30, 60):
        _, read, sd = fleet(shafts, rng=np.random.default_rng(13))
        law = fit_wear_mixture(read, sd, unworn=False).law
        # five parameters were fitted
        assert law.reach == pytest.approx(stats.t.ppf(0.975, shafts - 5))
