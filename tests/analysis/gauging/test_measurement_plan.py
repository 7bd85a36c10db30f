"""What a way of measuring tells of a shaft: against the covariance of all readings written out and conditioned on."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.analysis.widths.test_fit_recovery import SHAPE, invent
from wearstats.analysis.gauging.measurement_plan import MeasurementPlan, PlanQuality, judge_plan, standard_plans
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit, cautious
from wearstats.domain.arrays import FloatArray

SPLINES, STATIONS = SHAPE.splines, len(SHAPE.stations)
PLACES = [(spline, station) for spline in range(SPLINES) for station in range(STATIONS)]
STEP = 1.0


@cache
def fitted() -> WidthFit:
    """Give the spreads of 300 shafts, their means taken for known so that the sums below stay short."""
    data, _ = invent(300, rng=np.random.default_rng(7))
    fit = fit_widths(data, intervals=False)
    return replace(fit, mean_covariance=np.zeros_like(fit.mean_covariance))


def judged(plan: MeasurementPlan, *, step: float = 25.0, shafts: int = 400) -> PlanQuality:
    return judge_plan(
        fitted(), SHAPE, plan, size_step_um=step, step_um=STEP, shafts=shafts, rng=np.random.default_rng(5)
    )


def left_over(plan: MeasurementPlan) -> FloatArray:
    """Give the covariance of the true widths once the plan's readings are in hand: every reading is a row."""
    spread = dict(zip(COMPONENTS, cautious(fitted()).variances, strict=True))
    asked_stations = {1: [STATIONS // 2], 2: [0, STATIONS - 1]}.get(plan.stations, list(range(STATIONS)))
    asked_splines = sorted({spline * SPLINES // plan.splines for spline in range(plan.splines)})
    asked = [(spline, station) for spline in asked_splines for station in asked_stations]

    def true(first: tuple[int, int], second: tuple[int, int]) -> float:
        return float(
            spread["shaft"]
            + spread["spline"] * (first[0] == second[0])
            + spread["shaft_station"] * (first[1] == second[1])
            + spread["cell"] * (first == second)
        )

    readings: list[tuple[int, int, tuple[int, int] | None]] = [
        (visit, trial, place)
        for visit in range(plan.inspections)
        for place in [*asked, *([None] if plan.check_piece else [])]
        for trial in range(1 if place is None else plan.trials)
    ]
    among = np.zeros((len(readings), len(readings)))
    for row, one in enumerate(readings):
        for column, other in enumerate(readings):
            both = 0.0 if one[2] is None or other[2] is None else true(one[2], other[2])
            same_hand = plan.same_measurer or one[0] == other[0]
            among[row, column] = (
                both
                + spread["measurer_home"] * same_hand
                + spread["inspection_home"] * (one[0] == other[0])
                + (spread["repeatability_home"] + STEP**2 / 12) * (row == column)
            )
    prior = np.array([[true(one, other) for other in PLACES] for one in PLACES])
    along = np.array([[0.0 if place is None else true(each, place) for *_, place in readings] for each in PLACES])
    return np.asarray(prior - along @ np.linalg.solve(among, along.T))


PLANS = {
    "all once": MeasurementPlan(splines=SPLINES, stations=STATIONS),
    "two splines in the middle": MeasurementPlan(splines=2, stations=1),
    "half at the ends": MeasurementPlan(splines=SPLINES // 2, stations=2),
    "each place twice": MeasurementPlan(splines=SPLINES, stations=STATIONS, trials=2),
    "again by the same hand": MeasurementPlan(splines=SPLINES, stations=STATIONS, inspections=2),
    "again by another": MeasurementPlan(splines=SPLINES, stations=STATIONS, inspections=2, same_measurer=False),
    "with a check piece": MeasurementPlan(splines=SPLINES, stations=STATIONS, check_piece=True),
    "by two with check pieces": MeasurementPlan(
        splines=2, stations=2, inspections=2, same_measurer=False, check_piece=True
    ),
}


@pytest.mark.parametrize("name", PLANS)
def test_what_a_plan_leaves_in_doubt_is_what_conditioning_leaves(name: str) -> None:
    plan = PLANS[name]
    told, left = judged(plan, shafts=40), left_over(plan)
    mean = np.full(len(PLACES), 1 / len(PLACES))
    assert told.width_u_um == pytest.approx(np.sqrt(mean @ left @ mean), rel=1e-6)
    inner = np.array([station not in (0, STATIONS - 1) for _, station in PLACES])
    # how far the inner stations lie below the ends, on average
    hollow = np.where(inner, -1 / inner.sum(), 1 / (~inner).sum())
    assert told.hollow_u_um == pytest.approx(np.sqrt(hollow @ left @ hollow), rel=1e-6)


def test_the_widest_and_narrowest_place_are_told_as_well_as_drawn_shafts_say() -> None:
    # one station as wide as the next and no bias left: what remains of one reading is its own scatter
    told = judged(PLANS["all once"], shafts=1500)
    left = left_over(PLANS["all once"])
    # neither is told better than the mean of all, nor worse than a place by itself
    for doubt in (told.widest_u_um, told.narrowest_u_um):
        assert 0.9 * told.width_u_um < doubt < 1.15 * np.sqrt(left.diagonal().max())


def test_the_right_size_is_rarer_where_sizes_are_closer_and_its_error_is_that_of_a_share() -> None:
    shares = [judged(PLANS["all once"], step=step, shafts=2000).right_size_probability for step in (10.0, 25.0, 60.0)]
    assert shares == sorted(shares)
    # a normal error e misses a step of a ladder that lies anywhere with the chance |e| / step, while that is below 1
    wide = judged(PLANS["all once"], step=60.0, shafts=2000)
    error = (1 - wide.right_size_probability) * 60.0
    assert error == pytest.approx(np.sqrt(2 / np.pi) * wide.widest_u_um, rel=0.2)
    assert wide.right_size_se == pytest.approx(
        np.sqrt(wide.right_size_probability * (1 - wide.right_size_probability) / 2000)
    )


def test_another_hand_tells_more_than_the_same_and_a_check_piece_more_than_either() -> None:
    once, same, other, piece = (
        judged(PLANS[name], shafts=40).width_u_um
        for name in ("all once", "again by the same hand", "again by another", "with a check piece")
    )
    assert once > same > other
    assert once > piece


def test_readings_are_drawn_by_as_many_hands_as_the_plan_has() -> None:
    # what is told of the widest place errs as the mean width does, but for a place's own: two hands err less than one
    same, other = (judged(PLANS[name], shafts=3000) for name in ("again by the same hand", "again by another"))
    own = same.widest_u_um**2 - same.width_u_um**2
    assert other.widest_u_um**2 == pytest.approx(own + other.width_u_um**2, rel=0.08)
    assert other.widest_u_um < 0.93 * same.widest_u_um


def test_the_plans_compared_are_few_to_many_places_and_the_whole_shaft_again() -> None:
    plans = standard_plans(SHAPE)
    assert len(set(plans)) == len(plans)
    once = [plan for plan in plans if plan.inspections == 1 and plan.trials == 1]
    # two, half and all of the splines; the middle, the ends and all stations; with a check piece and without
    assert {plan.stations for plan in once} == {1, 2, STATIONS}
    assert {plan.splines for plan in once} == {max(2, SPLINES // 4), max(3, SPLINES // 2), SPLINES}
    again = [plan for plan in plans if plan not in once]
    assert [(plan.inspections, plan.same_measurer, plan.check_piece, plan.trials) for plan in again] == [
        (1, True, False, 2), (2, True, False, 1), (2, False, False, 1), (2, False, True, 1), (3, False, False, 1),
    ]  # fmt: skip
    assert {(plan.splines, plan.stations) for plan in again} == {(SPLINES, STATIONS)}
