"""Readings in coarse steps: exact moments, the rule of 0.29 steps, and intervals that say what is not told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from tests.analysis.support.reference_frames import reference_frame
from tests.analysis.support.rounded_data import RoundedFit, fit_rounded, rounded_moments
from wearstats.errors import AnalysisError


def fit(readings: np.ndarray[tuple[int], np.dtype[np.float64]], step: float) -> RoundedFit:
    values, counts = np.unique(readings, return_counts=True)
    return fit_rounded(values, counts, step_um=step)


def test_moments_are_the_exact_sums() -> None:
    # tests/reference/rounding_normal_exact.csv: sd 1, step h, mean offset * h
    for row in reference_frame("rounding_normal_exact.csv").itertuples():
        step = float(row.h_over_sigma)  # type: ignore[arg-type]
        mean, variance = rounded_moments(float(row.mu_offset_in_h) * step, 1.0, step)  # type: ignore[arg-type]
        assert mean - float(row.mu_offset_in_h) * step == pytest.approx(float(row.bias_mean), abs=1e-9)  # type: ignore[arg-type]
        assert variance == pytest.approx(float(row.var_rounded), rel=1e-9)  # type: ignore[arg-type]


def test_a_resolution_adds_the_uncertainty_of_0_29_steps() -> None:
    # JCGM 100:2008 (GUM), F.2.2.1: u = 0.29 step, for a step not coarse against the scatter
    _, variance = rounded_moments(0.3, 1.0, 1.0)
    assert np.sqrt(variance - 1.0) == pytest.approx(0.29, abs=0.002)


def test_fine_steps_give_students_interval() -> None:
    readings = np.round(np.random.default_rng(1).normal(100, 8, 24) / 0.01) * 0.01
    found = fit(readings, 0.01)
    low, high = stats.t.interval(0.95, 23, readings.mean(), readings.std(ddof=1) / np.sqrt(24))
    assert found.mean_um.low == pytest.approx(low, abs=1e-4)
    assert found.mean_um.high == pytest.approx(high, abs=1e-4)
    assert found.sd_um.value == pytest.approx(readings.std(), abs=1e-4)


def test_maximum_is_that_of_a_general_optimiser() -> None:
    values, counts = np.array([-25.4, 0.0, 25.4, 50.8]), np.array([2, 11, 8, 1])

    def minus_log_likelihood(at: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        edges = np.array([values - 12.7, values + 12.7])
        return -float(counts @ np.log(np.diff(stats.norm.cdf(edges, at[0], np.exp(at[1])), axis=0)[0]))

    best = optimize.minimize(minus_log_likelihood, [5.0, 2.5], method="Nelder-Mead", options={"xatol": 1e-8}).x
    found = fit_rounded(values, counts, step_um=25.4)
    assert found.mean_um.value == pytest.approx(best[0], abs=1e-3)
    assert found.sd_um.value == pytest.approx(np.exp(best[1]), abs=1e-3)


def test_one_value_bounds_the_scatter_and_not_more() -> None:
    found = fit_rounded([25.4], [24], step_um=25.4)
    assert found.sd_um.status == found.mean_um.status == "bounded"
    assert found.sd_um.value is None
    assert found.sd_um.low == 0.0
    assert found.sd_um.high is not None
    # at the bound, all 24 fall on the middle value with a chance of one in twenty
    assert (2 * stats.norm.cdf(12.7 / found.sd_um.high) - 1) ** 24 == pytest.approx(0.05)
    assert found.mean_um.low == pytest.approx(12.7, abs=0.1)
    assert found.mean_um.high == pytest.approx(38.1, abs=0.1)


def test_two_values_bound_the_mean_by_their_edge() -> None:
    found = fit_rounded([0.0, 25.4], [20, 4], step_um=25.4)
    assert found.sd_um.status == found.mean_um.status == "bounded"
    assert found.mean_um.high == pytest.approx(12.7, abs=0.1)
    assert found.mean_um.low is not None
    assert -2.0 < found.mean_um.low < 5.0


def test_a_given_scatter_tells_the_mean_from_one_value() -> None:
    found = fit_rounded([0.0], [24], step_um=25.4, sd_um=8.0)
    assert found.sd_um.status == "assumed"
    assert found.mean_um.status == "ok"
    assert found.mean_um.high is not None
    # where the chance of all 24 has fallen by the 95 % point of chi-square
    chances = [np.diff(stats.norm.cdf([-12.7, 12.7], mean, 8.0))[0] for mean in (0.0, found.mean_um.high)]
    assert 48 * np.log(chances[0] / chances[1]) == pytest.approx(stats.chi2.ppf(0.95, 1), rel=1e-3)


def test_no_reading_is_refused() -> None:
    with pytest.raises(AnalysisError, match="no reading"):
        fit_rounded([0.0], [0], step_um=10.0)
