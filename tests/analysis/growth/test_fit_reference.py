"""Growth against published mixed models, crossing times and other programs, and against a dense computation."""

from __future__ import annotations

import dataclasses
import warnings

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from tests.analysis.support.growth_fleet import invent
from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.growth.fit import compare_ages, fit_growth, ran_between
from wearstats.analysis.growth.likelihood import MixedBlocks, MixedFit, MixedLikelihood
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

RATE = np.array([0.0, 1.0])


def plain_blocks(response: FloatArray, time: FloatArray, *, correlated: bool) -> MixedBlocks:
    """Intercept and slope, fixed and own, and no known error."""
    shafts, states = response.shape
    columns = np.stack([np.ones_like(time), time], axis=2)
    return MixedBlocks(
        response=response,
        seen=np.ones(time.shape, dtype=bool),
        fixed=columns,
        loads=columns,
        own_error=np.zeros((shafts, states, states)),
        shared_error=np.zeros((shafts, states, 0)),
        correlated=correlated,
    )


@pytest.fixture(scope="module")
def sleep() -> MixedFit:
    table = reference_frame("sleepstudy.csv").sort_values(["Subject", "Days"])
    response = table["Reaction"].to_numpy(dtype=float).reshape(18, 10)
    days = table["Days"].to_numpy(dtype=float).reshape(18, 10)
    return MixedLikelihood(plain_blocks(response, days, correlated=True)).fit(np.array([500.0, 30.0, 600.0, 1.0]))


def test_sleep_study_as_published(sleep: MixedFit) -> None:
    # Bates, Maechler, Bolker, Walker, J. Stat. Softw. 67 (2015) 1: REML, intercept and slope correlated
    np.testing.assert_allclose(sleep.coefficients, [251.405, 10.467], atol=5e-4)
    np.testing.assert_allclose(np.sqrt(np.diag(sleep.covariance)), [6.825, 1.546], atol=5e-4)
    np.testing.assert_allclose(np.sqrt(sleep.variances[:3]), [24.740, 5.922, 25.592], atol=1e-3)
    assert sleep.variances[3] / np.sqrt(sleep.variances[0] * sleep.variances[1]) == pytest.approx(0.066, abs=5e-4)
    assert sleep.criterion == pytest.approx(1743.628, abs=5e-4)


def test_degrees_of_freedom_of_the_sleep_study(sleep: MixedFit) -> None:
    # balanced: the slopes of 18 drivers are a sample of 18 independent numbers, so exactly 17
    value, se, df = sleep.combine(RATE)
    assert value == pytest.approx(10.467, abs=5e-4)
    assert se == pytest.approx(1.546, abs=5e-4)
    assert df == pytest.approx(17.0, abs=1e-6)


def test_slope_of_a_balanced_study_is_the_t_test_of_the_single_slopes(sleep: MixedFit) -> None:
    # independent computation: the mean of 18 least squares slopes and its standard error
    table = reference_frame("sleepstudy.csv")
    slopes = np.array([np.polyfit(rows["Days"], rows["Reaction"], 1)[0] for _, rows in table.groupby("Subject")])
    value, se, _ = sleep.combine(RATE)
    assert value == pytest.approx(slopes.mean(), rel=1e-9)
    assert se == pytest.approx(slopes.std(ddof=1) / np.sqrt(slopes.size), rel=1e-6)


@pytest.mark.parametrize("correlation", [-0.6, 0.5])
def test_agrees_with_statsmodels_whatever_the_sign_of_the_correlation(correlation: float) -> None:
    rng = np.random.default_rng(11)
    spread = np.array([[16.0, correlation * 4 * 1.5], [correlation * 4 * 1.5, 2.25]])
    own = rng.multivariate_normal([30.0, 2.0], spread, size=40)
    time = np.tile(np.arange(6.0), (40, 1))
    response = own[:, :1] + own[:, 1:] * time + rng.normal(0, 2, time.shape)
    ours = MixedLikelihood(plain_blocks(response, time, correlated=True)).fit(np.array([10.0, 1.0, 3.0, 0.1]))
    design = np.stack([np.ones(time.size), time.ravel()], axis=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = MixedLM(response.ravel(), design, np.repeat(np.arange(40), 6), exog_re=design)
        theirs = model.fit(reml=True, method=["lbfgs", "powell"])
    np.testing.assert_allclose(ours.coefficients, np.asarray(theirs.fe_params), rtol=1e-6)
    covariance = np.asarray(theirs.cov_re)
    np.testing.assert_allclose(ours.variances, [*np.diag(covariance), theirs.scale, covariance[0, 1]], rtol=2e-3)
    assert ours.criterion == pytest.approx(-2 * float(theirs.llf), abs=1e-4)
    assert np.sign(ours.variances[3]) == np.sign(correlation)


def blocks_with_errors(seed: int) -> MixedBlocks:
    """Shafts with known errors, own and shared, and states missing."""
    states = ran_between(invent(14, rng=np.random.default_rng(seed)).states)
    hours = np.where(states.seen, states.between_h.sum(axis=2), 0.0) / 1000
    columns = np.stack([np.ones_like(hours), hours], axis=2)
    return MixedBlocks(
        response=states.wear_um,
        seen=states.seen,
        fixed=columns,
        loads=columns,
        own_error=states.own_error_um2,
        shared_error=states.shared_error_um,
    )


class Dense:
    """The same model with one covariance matrix of all states."""

    def __init__(self, blocks: MixedBlocks, variances: FloatArray) -> None:
        shafts, states = blocks.seen.shape
        keep = blocks.seen.ravel()
        shared = blocks.shared_error.reshape(shafts * states, -1)
        self.parts = []
        for k in range(blocks.loads.shape[2]):
            spread = np.zeros((shafts * states, shafts))
            for shaft in range(shafts):
                spread[shaft * states : (shaft + 1) * states, shaft] = blocks.loads[shaft, :, k]
            self.parts.append((spread @ spread.T)[np.ix_(keep, keep)])
        self.parts.append(np.eye(int(keep.sum())))
        known = shared @ shared.T
        for shaft in range(shafts):
            at = slice(shaft * states, (shaft + 1) * states)
            known[at, at] += blocks.own_error[shaft]
        self.covariance = known[np.ix_(keep, keep)] + sum(
            v * part for v, part in zip(variances, self.parts, strict=True)
        )
        self.inverse = np.linalg.inv(self.covariance)
        self.x = blocks.fixed.reshape(shafts * states, -1)[keep]
        self.y = blocks.response.ravel()[keep]
        self.phi = np.linalg.inv(self.x.T @ self.inverse @ self.x)
        self.beta = self.phi @ self.x.T @ self.inverse @ self.y
        self.projector = self.inverse - self.inverse @ self.x @ self.phi @ self.x.T @ self.inverse

    @property
    def criterion(self) -> float:
        return float(
            np.linalg.slogdet(self.covariance)[1]
            - np.linalg.slogdet(self.phi)[1]
            + self.y @ self.projector @ self.y
            + (self.y.size - self.x.shape[1]) * np.log(2 * np.pi)
        )

    def kenward_roger(self) -> tuple[FloatArray, FloatArray]:
        """The adjusted covariance and the degrees of freedom, by the formulae of the paper."""
        count = len(self.parts)
        px = self.inverse @ self.x
        p = [-px.T @ part @ px for part in self.parts]
        info = np.array(
            [[np.trace(self.projector @ a @ self.projector @ b) / 2 for b in self.parts] for a in self.parts]
        )
        w = np.linalg.inv(info)
        inner = np.zeros_like(self.phi)
        for i in range(count):
            for j in range(count):
                q = px.T @ self.parts[i] @ self.inverse @ self.parts[j] @ px
                inner += w[i, j] * (q - p[i] @ self.phi @ p[j])
        slope = np.array([-np.diag(self.phi @ each @ self.phi) for each in p])
        df = 2 * np.diag(self.phi) ** 2 / np.einsum("kf,kl,lf->f", slope, w, slope)
        adjusted = self.phi + 2 * self.phi @ inner @ self.phi
        return np.asarray(adjusted, dtype=np.float64), np.asarray(df, dtype=np.float64)


@pytest.mark.parametrize("seed", [1, 2])
def test_criterion_score_and_errors_equal_the_dense_ones(seed: int) -> None:
    blocks = blocks_with_errors(seed)
    likelihood = MixedLikelihood(blocks)
    variances = np.array([80.0, 0.7, 2.0])
    point = likelihood.evaluate(variances)
    assert point.criterion == pytest.approx(Dense(blocks, variances).criterion, rel=1e-11)
    for k in range(3):
        step = np.zeros(3)
        step[k] = 1e-4 * variances[k]
        rise = Dense(blocks, variances + step).criterion - Dense(blocks, variances - step).criterion
        assert point.score[k] == pytest.approx(-rise / (4 * step[k]), rel=1e-5, abs=1e-7)
    held = likelihood.fit(variances, free=np.zeros(3, dtype=bool))
    dense = Dense(blocks, variances)
    np.testing.assert_allclose(held.coefficients, dense.beta, rtol=1e-10)
    np.testing.assert_allclose(held.covariance, dense.phi, rtol=1e-9)
    found = likelihood.fit(variances)
    if (found.variances > 0).all():
        covariance, df = Dense(blocks, found.variances).kenward_roger()
        np.testing.assert_allclose(found.covariance, covariance, rtol=1e-8)
        np.testing.assert_allclose([found.combine(row)[2] for row in np.eye(2)], df, rtol=1e-8)


def test_predictions_equal_the_dense_ones() -> None:
    blocks = blocks_with_errors(5)
    variances = np.array([80.0, 0.7, 2.0])
    fit = MixedLikelihood(blocks).fit(variances, free=np.zeros(3, dtype=bool))
    dense = Dense(blocks, variances)
    shafts = blocks.seen.shape[0]
    weights, own = np.tile([0.0, 1.0], (shafts, 1)), np.tile([0.0, 1.0], (shafts, 1))
    value, variance = fit.predict(weights, own)
    begin = np.r_[0, np.cumsum(blocks.seen.sum(axis=1))]
    for shaft in range(shafts):
        reach = np.zeros(dense.y.size)
        reach[begin[shaft] : begin[shaft + 1]] = 0.7 * blocks.loads[shaft, blocks.seen[shaft], 1]
        expected = dense.beta[1] + reach @ dense.inverse @ (dense.y - dense.x @ dense.beta)
        short = np.array([0.0, 1.0]) - dense.x.T @ dense.inverse @ reach
        spread = 0.7 - reach @ dense.inverse @ reach + short @ dense.phi @ short
        assert value[shaft] == pytest.approx(expected, rel=1e-9)
        assert variance[shaft] == pytest.approx(spread, rel=1e-9)


def test_with_two_states_each_the_rate_is_a_weighted_mean_of_what_was_lost_an_hour() -> None:
    # derived: intercept and mean hours take up the shaft's mean, so only differences speak, each with its variance
    states = ran_between(invent(60, rng=np.random.default_rng(3)).states)
    states = states.take(states.seen.sum(axis=1) == 2, slice(0, 2))
    bare = dataclasses.replace(
        states,
        between_h=states.between_h.sum(axis=2, keepdims=True) * np.array([1.0, 0.0, 0.0]),
        own_error_um2=np.zeros_like(states.own_error_um2),
        shared_error_um=states.shared_error_um[..., :0],
    )
    fit = fit_growth(bare)
    lost = np.diff(bare.wear_um, axis=1)[:, 0]
    ran = np.diff(bare.hours_h, axis=1)[:, 0] / 1000
    weight = ran**2 / (fit.mixed.variances[1] * ran**2 + 2 * fit.mixed.variances[-1])
    best = fit.mixed.combine(fit.rate_weights("all"))[0]
    assert best == pytest.approx(float(np.sum(weight * lost / ran) / weight.sum()), rel=1e-8)
    assert fit.rates["all"].value == pytest.approx(best, rel=0.02)


def test_growth_is_refused_with_too_few_shafts() -> None:
    states = invent(40, rng=np.random.default_rng(1), again=0.0).states
    with pytest.raises(AnalysisError, match=r"only 0 shafts were measured again.*before and after they ran"):
        fit_growth(states)
    few = compare_ages(states.take(np.arange(2)))
    assert (few.status, few.value) == ("none", None)


@pytest.mark.parametrize("shafts", [4, 6, 9])
@pytest.mark.parametrize("seed", range(6))
def test_few_shafts_give_a_wide_interval_or_a_refusal_but_no_accident(shafts: int, seed: int) -> None:
    states = invent(shafts, rng=np.random.default_rng([shafts, seed, 5]), again=0.8).states
    compare_ages(states)
    for by in ("all", "duty", "between"):
        try:
            fit = fit_growth(states, by=by)
        except AnalysisError:
            continue
        for name, rate in fit.rates.items():
            assert rate.low is not None
            assert rate.value is not None
            assert rate.high is not None
            assert rate.low < rate.value < rate.high
            value, variance = fit.own_rates(name)
            assert np.isfinite(value).all()
            assert (variance > 0).all()
