"""Demand predicted: against closed forms, simple properties, and records too short to ask."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import nbinom, poisson

from wearstats.analysis.stock.cover import lasting_quarters
from wearstats.analysis.stock.demand import DemandRecord, divide_demand, fit_demand, interval_of
from wearstats.analysis.stock.demand_states import Courses, count_log_chance, follow, list_courses
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError


def record(counts: list[float] | FloatArray, exposure: FloatArray | None = None) -> DemandRecord:
    quarters = len(counts)
    return DemandRecord(
        counts=np.asarray(counts, dtype=float),
        exposure=np.ones(quarters) if exposure is None else exposure,
        of_year=np.asarray((np.arange(quarters) * 0.25 + 0.125) % 1.0),
    )


def steady(shape: float = np.inf, discount: float = 1.0) -> Courses:
    one = np.ones(1)
    return Courses(
        prior=one, trend=0 * one, discount=discount * one, swing=0 * one, phase=0 * one, shape=np.array([shape])
    )


def test_chances_of_counts_are_those_of_the_library() -> None:
    mean = np.array([[0.3, 2.0, 17.0], [0.3, 2.0, 17.0]])
    found = count_log_chance(7.0, np.log(mean), np.array([np.inf, 2.5]))
    np.testing.assert_allclose(found[0], poisson.logpmf(7, mean[0]))
    np.testing.assert_allclose(found[1], nbinom.logpmf(7, 2.5, 2.5 / (2.5 + mean[1])))


def test_a_steady_poisson_level_is_the_gamma_of_the_textbook() -> None:
    # conjugate: prior of Jeffreys, Gamma(1/2, 0); after counts with exposures Gamma(1/2 + sum, exposure)
    counts, exposure = np.array([7.0, 12.0, 9.0, 3.0]), np.array([1.0, 1.0, 1.0, 0.4])
    found = follow(steady(), counts, exposure, np.full(4, 0.5))
    levels = np.exp(found.log_levels)
    shape, rate = 0.5 + counts.sum(), exposure.sum()
    mean = float(found.density[0] @ levels)
    assert mean == pytest.approx(shape / rate, rel=1e-3)
    assert float(found.density[0] @ levels**2) - mean**2 == pytest.approx(shape / rate**2, rel=5e-3)


def test_a_level_with_a_trend_is_the_gamma_of_what_the_trend_makes_of_the_exposures() -> None:
    # the level is that of the middle of the record, which quarters before and after stand under and over by the trend
    counts, exposure, grows = np.array([5.0, 9.0, 12.0, 17.0]), np.array([1.0, 1.0, 1.0, 0.4]), 0.18
    found = follow(replace(steady(), trend=np.array([grows])), counts, exposure, np.full(4, 0.5))
    rate = float(exposure @ np.exp(grows * np.array([-1.5, -0.5, 0.5, 1.5])))
    assert float(found.density[0] @ np.exp(found.log_levels)) == pytest.approx((0.5 + counts.sum()) / rate, rel=1e-3)


def test_a_forgotten_level_is_the_discounted_gamma() -> None:
    # Smith 1979: raising the density to a power d turns the counts' sums into discounted sums; on the log scale here,
    # so that the shape itself is discounted
    counts, d = np.array([7.0, 12.0, 9.0]), 0.75
    found = follow(steady(discount=d), counts, np.ones(3), np.full(3, 0.5))
    shape, rate = 0.5 + counts[0], 1.0
    for count in counts[1:]:
        shape, rate = d * shape + count, d * rate + 1.0
    assert float(found.density[0] @ np.exp(found.log_levels)) == pytest.approx(shape / rate, rel=2e-3)


def test_prior_probabilities_sum_to_one_and_seasons_to_the_year() -> None:
    for may_turn in (False, True):
        courses = list_courses(may_turn=may_turn)
        assert courses.prior.sum() == pytest.approx(1.0)
    year = (np.arange(400) + 0.5) / 400
    factor = list_courses(may_turn=True).factor(np.zeros(400), year)
    np.testing.assert_allclose(factor.mean(axis=1), 1.0, atol=1e-9)


def test_the_draws_have_the_chances_of_the_textbook() -> None:
    # a long, even record: the next quarter is nearly Poisson about the known level
    fit = fit_demand(record([20.0] * 40))
    drawn = fit.draw(np.array([0.0, 1.0]), draws=20_000, rng=np.random.default_rng(1))[:, 0]
    assert drawn.mean() == pytest.approx(20.0, rel=0.03)
    assert drawn.var() == pytest.approx(20.0, rel=0.2)
    assert fit.overdispersed < 0.5
    assert not fit.trend_borne
    assert not fit.season_borne


def test_a_level_that_drifts_is_expected_to_stay_and_is_known_the_less_the_farther_ahead() -> None:
    fit = fit_demand(record([30.0, 26.0, 33.0, 29.0, 31.0, 28.0]))
    drifts = np.flatnonzero((fit._courses.discount == 0.6) & np.isinf(fit._courses.shape) & (fit._courses.swing == 0))
    assert drifts.size == 1
    weight = np.where(np.arange(fit._weight.size) == drifts[0], 1.0, 0.0)
    drawn = replace(fit, _weight=weight).draw(np.arange(5.0), draws=40_000, rng=np.random.default_rng(3))
    level = float(fit._followed.density[drifts[0]] @ np.exp(fit._followed.log_levels))
    error = drawn.std(axis=0) / 200
    assert np.abs(drawn.mean(axis=0) - level) == pytest.approx(0.0, abs=4 * error.max())
    # the log level's variance grows by 1 / 0.6 a quarter, and a count adds its own
    grid = fit._followed.log_levels
    mean = float(fit._followed.density[drifts[0]] @ grid)
    known = float(fit._followed.density[drifts[0]] @ (grid - mean) ** 2)
    spread = known / 0.6 ** np.arange(1.0, 5.0)
    assert drawn.var(axis=0) == pytest.approx(level + level**2 * np.expm1(spread), rel=0.1)


def test_parts_of_a_quarter_add_up() -> None:
    fit = fit_demand(record([14.0, 9.0, 11.0, 16.0, 8.0]))
    drawn = fit.draw(np.array([0.0, 0.4, 1.0, 2.5]), draws=30_000, rng=np.random.default_rng(2))
    means = drawn.mean(axis=0)
    assert means[1] / means[0] == pytest.approx(1.5, rel=0.05)
    assert means[2] / means[:2].sum() == pytest.approx(1.5, rel=0.05)


@pytest.mark.parametrize("counts", [[], [0.0, 0.0, 0.0]])
def test_without_orders_there_is_no_demand_to_plan_for(counts: list[float]) -> None:
    with pytest.raises(AnalysisError, match="no orders are on record"):
        fit_demand(record(counts))


def test_one_quarter_is_answered_with_a_wide_interval_and_without_asking_for_a_trend() -> None:
    fit = fit_demand(record([6.0], np.array([0.5])))
    assert np.isnan(fit.trend)
    assert np.isnan(fit.season)
    assert fit.level.low is not None
    assert fit.level.high is not None
    assert fit.level.low < 6
    assert fit.level.high > 18


def test_a_plain_trend_and_a_plain_season_are_found_and_noise_is_not() -> None:
    t = np.arange(20)
    rising = fit_demand(record(np.rint(40.0 * np.exp(0.1 * (t - 10)))))
    assert rising.trend_borne
    assert not rising.season_borne
    year = fit_demand(record(np.rint(40.0 * (1 + 0.5 * np.cos(2 * np.pi * (t * 0.25 + 0.125))))))
    assert year.season_borne
    assert not year.trend_borne
    # the high quarters come first again
    drawn = year.draw(np.arange(5.0), draws=4000, rng=np.random.default_rng(3)).mean(axis=0)
    assert min(drawn[0], drawn[3]) > 1.5 * max(drawn[1], drawn[2])


def test_scatter_beyond_chance_is_found() -> None:
    rng = np.random.default_rng(5)
    wild = fit_demand(record(rng.poisson(30.0 * rng.gamma(3.0, 1 / 3.0, size=24)).astype(float)))
    assert wild.overdispersed > 0.95
    assert fit_demand(record(np.full(24, 30.0))).overdispersed < 0.3


def test_sizes_divide_the_whole_and_what_they_lack_is_beyond_them() -> None:
    totals = np.random.default_rng(1).poisson(50.0, size=(6000, 2))
    parts = divide_demand(totals, np.array([0.5, 0.3]), rng=np.random.default_rng(2))
    assert np.array_equal(parts.sum(axis=2), totals)
    np.testing.assert_allclose(parts.mean(axis=(0, 1)) / 50.0, [0.5, 0.3, 0.2], atol=0.01)
    # a Poisson count divided by chance is Poisson again, and its parts independent (thinning)
    assert parts[:, 0, 0].var() == pytest.approx(25.0, rel=0.06)
    assert abs(np.corrcoef(parts[:, 0, 0], parts[:, 0, 1])[0, 1]) < 0.05


def test_shares_known_badly_widen_the_demand_of_a_size() -> None:
    totals = np.full((6000, 1), 50)
    rng = np.random.default_rng(1)
    unsure = divide_demand(totals, rng.dirichlet([3.0, 3.0], size=500)[:, :1], rng=rng)[:, 0, 0]
    sure = divide_demand(totals, np.array([0.5]), rng=rng)[:, 0, 0]
    assert unsure.std() > 2 * sure.std()


def test_an_interval_of_draws_holds_its_share() -> None:
    estimate = interval_of(np.arange(1000), level=0.9, method=None)
    assert (estimate.low, estimate.high) == (49.0, 949.0)


def test_stock_lasts_as_long_as_a_gamma_time_says() -> None:
    # the time of the fifth need of a Poisson stream of 4 a quarter is Gamma(5) / 4: its 10 % point is 0.6082
    demand = np.random.default_rng(1).poisson(4.0, size=(40_000, 8, 1))
    lasts = lasting_quarters(np.array([4.0]), demand, chance=0.1, rng=np.random.default_rng(2))
    assert lasts[0] == pytest.approx(2.4326 / 4.0, rel=0.02)
    never = lasting_quarters(np.array([400.0]), demand, chance=0.1, rng=np.random.default_rng(2))
    assert np.isinf(never[0])


def test_a_size_without_hubs_lasts_as_long_as_the_tighter_ones_that_are_filed_out_for_it() -> None:
    # needs of both sizes, 2 a quarter each, take from one heap of 20; after its end each goes unserved from its next
    # need on: after a Gamma(20) / 4 and an exponential time of mean 1/2
    drawn = np.random.default_rng(1)
    demand = drawn.poisson(2.0, size=(40_000, 16, 2))
    ends = np.quantile(drawn.gamma(20.0, 1 / 4.0, 40_000) + drawn.exponential(1 / 2.0, 40_000), 0.1)
    filing, heap = np.array([[0.0, 10.0], [np.inf, 0.0]]), np.array([0.0, 20.0])
    asked: dict[str, Any] = {"demand": demand, "chance": 0.1}
    alone = lasting_quarters(heap, **asked, rng=np.random.default_rng(2))
    assert alone[0] == pytest.approx(-np.log(0.9) / 2.0, rel=0.05)
    helped = lasting_quarters(heap, **asked, filing=filing, worth=50.0, rng=np.random.default_rng(2))
    # within a quarter a size's own needs are served first, whenever they come
    assert helped == pytest.approx([ends, ends], abs=0.25)
    dear = lasting_quarters(heap, **asked, filing=filing, worth=5.0, rng=np.random.default_rng(2))
    assert dear == pytest.approx(alone)


def test_how_likely_trend_season_and_drift_are_is_the_weight_of_their_courses() -> None:
    fit = fit_demand(record(np.full(24, 20.0)))
    weight, courses = fit._followed.posterior, fit._courses
    assert fit.trend == pytest.approx(weight[courses.trend != 0].sum())
    assert fit.season == pytest.approx(weight[courses.swing > 0].sum())
    assert fit.drift == pytest.approx(weight[courses.discount != 1].sum())
    # a record as even as can be speaks for none of them
    assert max(fit.trend, fit.season, fit.drift) < 0.5
