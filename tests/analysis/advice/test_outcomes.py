"""What becomes of a hub, on maps whose answer is known by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import (
    AS_SUPPLIED,
    OWNER,
    WORKSHOP,
    FilingHand,
    FittingPrices,
    costs_of,
    outcomes_of,
    refusals,
)
from wearstats.analysis.advice.remarks import Refusal
from wearstats.analysis.gaps.posterior import FitDraws, fit_draws
from wearstats.domain.contact import sum_up_fit, way_in

LIMITS, HAND = AdviceLimits(), FilingHand()
PRICES = FittingPrices(filing_minute=1.0, workshop_fit=90.0, postage=17.0, return_=50.0, failure=440.0)


def even(width_um: float, *, stations: int = 3) -> np.ndarray:
    return np.full((1, 8, stations), width_um)


def fitted(width_um: float, space_um: float, *, stations: int = 3) -> FitDraws:
    return fit_draws(even(width_um, stations=stations), np.array([space_um]))


def test_minutes_go_by_trials_and_depth_and_not_by_stations_measured() -> None:
    few, many = (float(HAND.minutes(fitted(-20.0, -60.0, stations=count), stations=count)[0]) for count in (3, 9))
    # by hand: 40 um deep are 1 + ceil(40 / 15) = 4 trials of 6 minutes, and 8 splines of 40 um at 0.2 minutes
    assert few == pytest.approx(4 * 6 + 8 * 40 * 0.2)
    assert many == pytest.approx(few)
    assert float(HAND.minutes(fitted(-60.0, -20.0), stations=3)[0]) == 0.0


def test_sums_over_a_fleet_are_those_of_one_shaft() -> None:
    maps = np.random.default_rng(1).normal(-40.0, 12.0, size=(50, 8, 3))
    space = np.full(50, -45.0)
    one, fleet = fit_draws(maps, space), sum_up_fit(way_in(maps), maps.mean(axis=(1, 2)), space)
    np.testing.assert_allclose(one.smallest_gap_um, fleet.smallest_gap_um)
    np.testing.assert_allclose(one.largest_filing_um, fleet.largest_filing_um)
    np.testing.assert_allclose(HAND.minutes(one, stations=3), HAND.minutes(fleet, stations=3))


def test_a_hub_that_would_have_to_be_forced_has_no_chance_of_its_own() -> None:
    fit = fitted(0.0, -150.0)
    outcomes = outcomes_of(fit, AS_SUPPLIED, hand=HAND, limits=LIMITS, stations=3)
    assert outcomes.stuck.all()
    assert refusals(fit, outcomes, AS_SUPPLIED, limits=LIMITS)[Refusal.FORCED]
    cost = costs_of(outcomes, AS_SUPPLIED, 0.03, prices=PRICES, follows=200.0)
    # it comes back and another follows; nothing for a failure that it never lives to see
    assert float(cost[0]) == pytest.approx(50 + 17 + 200)


def test_what_rattles_on_trial_comes_back_whatever_the_method() -> None:
    for method in (AS_SUPPLIED, OWNER, WORKSHOP):
        fit = fitted(-60.0, -30.0)
        outcomes = outcomes_of(fit, method, hand=HAND, limits=LIMITS, stations=3)
        assert outcomes.slack.all()
        assert refusals(fit, outcomes, method, limits=LIMITS)[Refusal.SHAKES]


def test_too_deep_for_an_owner_and_for_anybody() -> None:
    fit = fitted(0.0, -100.0)
    owner = outcomes_of(fit, OWNER, hand=HAND, limits=LIMITS, stations=3)
    assert refusals(fit, owner, OWNER, limits=LIMITS)[Refusal.NOT_AN_OWNERS]
    assert not refusals(fit, owner, OWNER, limits=LIMITS)[Refusal.TOO_DEEP]
    deep = fitted(0.0, -160.0)
    assert refusals(deep, owner, WORKSHOP, limits=LIMITS)[Refusal.TOO_DEEP]


def test_the_chance_of_filing_too_far_is_that_of_half_a_normal_error() -> None:
    # independently: twice the upper tail of a normal error whose spread grows with depth
    spread = HAND.error_um + HAND.error_share * 100.0
    told = HAND.too_far(fitted(0.0, -100.0), play_um=LIMITS.play_um, share=1.0)
    assert float(told[0]) == pytest.approx(2 * norm.sf(LIMITS.play_um / spread))
    assert float(HAND.too_far(fitted(-60.0, -20.0), play_um=25.4, share=1.0)[0]) == 0.0


def test_weights_give_what_drawing_more_often_gives() -> None:
    maps = np.concatenate([even(-60.0), even(-20.0)])
    fit = fit_draws(maps, np.array([-30.0, -30.0]))
    outcomes = outcomes_of(fit, OWNER, hand=HAND, limits=LIMITS, stations=3)
    weights = np.array([[0.95, 0.05], [0.05, 0.95]])
    told = refusals(fit, outcomes, OWNER, limits=LIMITS, weights=weights)[Refusal.SHAKES]
    assert told.tolist() == [True, False]


def test_the_workshop_files_with_half_of_an_owners_error() -> None:
    limits = replace(LIMITS, play_um=10.0)
    spread = HAND.error_um + HAND.error_share * 100.0
    for method, share in ((OWNER, 1.0), (WORKSHOP, 0.5)):
        told = outcomes_of(fitted(0.0, -100.0), method, hand=HAND, limits=limits, stations=3)
        assert float(told.too_far[0]) == pytest.approx(2 * norm.sf(10.0 / (share * spread))), method
