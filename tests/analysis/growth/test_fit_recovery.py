"""Growth finds the truth of invented shafts, its intervals are as sure as they say, and so are the hours predicted."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.stats import t as student

from tests.analysis.support.growth_fleet import RATE, invent
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.growth.fit import compare_ages, fit_growth
from wearstats.analysis.growth.next_size import hours_until
from wearstats.analysis.growth.remarks import GrowthRemark
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray


def covers(estimate: Estimate, truth: float) -> bool:
    assert estimate.low is not None
    assert estimate.high is not None
    return estimate.low <= truth <= estimate.high


def coverage(shafts: int, own_sd: float, replicates: int, *, by: tuple[str, ...]) -> dict[str, float]:
    """Count how often the intervals hold the truth; seeds are the numbers from 0 on."""
    held: dict[str, list[bool]] = {}
    for seed in range(replicates):
        states = invent(shafts, rng=np.random.default_rng([shafts, seed]), own_sd=own_sd).states
        for kind in by:
            for name, rate in fit_growth(states, by=kind).rates.items():
                held.setdefault(name, []).append(covers(rate, RATE))
    return {name: float(np.mean(hits)) for name, hits in held.items()}


def test_rates_cover_the_truth_with_sixty_shafts() -> None:
    # 30 replicates: at 95 % a count below 24 has a chance of 1 in 1000
    for name, share in coverage(60, 0.6, 30, by=("between", "duty")).items():
        assert share >= 24 / 30, name


@pytest.mark.slow
@pytest.mark.parametrize(("shafts", "own_sd", "most"), [(60, 0.6, 0.985), (200, 0.6, 0.975), (60, 0.0, 1.0)])
def test_rates_cover_the_truth(shafts: int, own_sd: float, most: float) -> None:
    # 400 replicates: standard error 1.1 %. Above 97.5 % only where the spread of own rates is at its bound of zero, in
    # truth or in one sample in five (60 shafts): the flat prior on the spread is on the safe side there
    for name, share in coverage(shafts, own_sd, 400, by=("all", "between")).items():
        assert 0.93 <= share <= most, name


def test_hubs_found_loose_are_told_from_tight_ones() -> None:
    differences = []
    for seed in range(12):
        states = invent(150, rng=np.random.default_rng(seed), loose_factor=4.0).states
        fit = fit_growth(states, by="between")
        difference = fit.difference("loose", "tight")
        differences.append(difference.value)
        assert difference.low is not None
        assert difference.low > 0
        assert fit.shafts["loose"] > 50
    assert np.mean(np.array(differences, dtype=float)) == pytest.approx(3 * RATE, rel=0.12)


def test_the_rate_does_not_lean_on_old_shafts_being_more_worn() -> None:
    # shafts that had run long are 20 um more worn than hours would make them: the comparison of shafts is far off
    within, across = [], []
    for seed in range(10):
        states = invent(120, rng=np.random.default_rng(seed), with_age=20.0).states
        within.append(fit_growth(states).rates["all"].value)
        across.append(compare_ages(states.take(states.duty == "daily")).value)
    assert np.mean(np.array(within, dtype=float)) == pytest.approx(RATE, abs=0.15)
    assert np.mean(np.array(across, dtype=float)) > 5 * RATE


def test_the_comparison_of_shafts_is_right_where_its_assumption_holds() -> None:
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(40):
        states = invent(80, rng=rng).states
        hours = states.hours_h / 1000
        own = RATE + rng.normal(0, 0.4, states.shaft.size)
        read = own[:, None] * hours + rng.normal(0, 6.0, (states.shaft.size, 1)) + rng.normal(0, 3.0, hours.shape)
        as_new = dataclasses.replace(states, wear_um=read, shared_error_um=states.shared_error_um[..., :0])
        rate = compare_ages(as_new)
        assert rate.status == "assumed"
        held += covers(rate, RATE)
    assert held >= 33


def test_own_rates_are_as_sure_as_they_say() -> None:
    held = []
    for seed in range(20):
        made = invent(150, rng=np.random.default_rng(seed))
        fit = fit_growth(made.states)
        value, variance = fit.own_rates("all")
        reach = student.ppf(0.975, fit.own_freedom("all")) * np.sqrt(variance)
        held.append(np.abs(made.own_rate - value) <= reach)
    # 3000 shafts in 20 fleets; own rates are gamma, the fits symmetric
    assert 0.93 <= np.mean(held) <= 0.985


def predict(rate: FloatArray, sd: FloatArray, df: float, width_sd: FloatArray) -> list[Estimate]:
    """Predict when 10 um more are lost, however late."""
    far = np.full(rate.size, 1e12)
    return hours_until(np.full(rate.size, 10.0), width_sd, rate, sd, df=df, hours_h=0 * far, record_h=far)


def test_hours_predicted_hold_the_truth_for_shafts_measured_again() -> None:
    held = []
    for seed in range(15):
        made = invent(100, rng=np.random.default_rng(seed))
        fit = fit_growth(made.states)
        rows = np.arange(made.own_rate.size)
        last = made.states.seen.sum(axis=1) - 1
        rate, variance = fit.own_rates("all")
        width_sd = np.sqrt(made.states.error_um2[rows, last])
        estimates = predict(rate, np.sqrt(variance), fit.own_freedom("all"), width_sd)
        left = made.states.wear_um[rows, last] + 10.0 - made.wear_um[rows, last]
        truth = np.maximum(left, 0.0) / made.own_rate * 1000
        held += [covers(each, hours) for each, hours in zip(estimates, truth.tolist(), strict=True)]
    assert 0.93 <= np.mean(held) <= 0.98


@pytest.mark.parametrize("width_sd", [0.5, 3.0])
def test_hours_predicted_hold_the_truth_for_other_shafts(width_sd: float) -> None:
    held = []
    for seed in range(20):
        rng = np.random.default_rng([7, seed])
        fit = fit_growth(invent(150, rng=rng).states)
        value, variance = fit.another_rate("all")
        rate, sd = np.array([value]), np.array([np.sqrt(variance)])
        (estimate,) = predict(rate, sd, fit.own_freedom("all"), np.array([width_sd]))
        others = invent(300, rng=rng).own_rate
        truth = np.maximum(10.0 + width_sd * rng.standard_normal(others.size), 0.0) / others * 1000
        held += [covers(estimate, hours) for hours in truth.tolist()]
    assert 0.93 <= np.mean(held) <= 0.98


def test_hours_predicted_agree_with_drawing() -> None:
    # independent computation: a million draws of the width left and of a log-normal rate
    rng = np.random.default_rng(2)
    log_variance = np.log1p((0.5 / 1.5) ** 2)
    rate = np.exp(np.log(1.5) - log_variance / 2 + np.sqrt(log_variance) * rng.standard_normal(1_000_000))
    hours = np.maximum(rng.normal(12.0, 4.0, rate.size), 0.0) / rate * 1000
    (estimate,) = hours_until(
        np.array([12.0]), np.array([4.0]), np.array([1.5]), np.array([0.5]),
        df=np.inf, hours_h=np.zeros(1), record_h=np.array([1e6]),
    )  # fmt: skip
    drawn = np.quantile(hours, [0.5, 0.025, 0.975])
    ours = np.array([estimate.value, estimate.low, estimate.high], dtype=float)
    np.testing.assert_allclose(ours, drawn, rtol=0.01)
    assert estimate.status == "ok"


def test_nothing_is_predicted_beyond_the_hours_on_record() -> None:
    estimates = hours_until(
        np.array([15.0, 15.0, 15.0, 15.0, 0.0]), np.full(5, 3.0), np.array([1.5, 1.5, 1.5, -0.2, 1.5]), np.full(5, 0.4),
        df=40.0, hours_h=np.array([5e3, 5e3, 5e3, 0.0, 5e3]), record_h=np.array([9e3, 20e3, 90e3, 90e3, 90e3]),
    )  # fmt: skip
    assert [each.status for each in estimates] == ["none", "bounded", "ok", "none", "ok"]
    refused, open_end, whole, shrinking, now = estimates
    assert (refused.value, refused.low, refused.high) == (None, None, None)
    assert refused.method == remark(GrowthRemark.DUE_BEYOND_RECORD, record_h=9e3)
    assert open_end.value == whole.value
    assert open_end.high is None
    assert open_end.method == remark(GrowthRemark.DUE_OPEN_END, record_h=20e3)
    assert shrinking.code == GrowthRemark.DUE_NO_GROWTH
    assert now.low == 0.0
