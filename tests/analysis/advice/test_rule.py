"""The rule: demands of safety first, then the least cost; each case with what decides it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.remarks import Reason, Refusal
from wearstats.analysis.advice.rule import Candidate, Decision, decide
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import Remark

LIMITS, LIMIT = AdviceLimits(), 0.05


def hub(um: float, risk: float | None, cost: float, **changed: object) -> Candidate:
    refused = (Refusal.OVER_LIMIT,) if risk is not None and risk > LIMIT else ()
    told = Candidate(
        undersize_um=um,
        method="owner-fitted",
        risk=Estimate(value=risk, low=0.0, high=1.0) if risk is not None else no_estimate(Remark("none")),
        cost=Estimate(value=cost),
        minutes=10.0,
        trials=2.0,
        slack=0.0,
        gap_um=10.0,
        station_gap_um=12.0,
        gripped=1.0,
        refused=refused,
    )
    return replace(told, **changed)  # type: ignore[arg-type]


def choose(*hubs: Candidate) -> Decision:
    return decide(hubs, limit=LIMIT, limits=LIMITS)


def sent(*hubs: Candidate) -> float | None:
    chosen = choose(*hubs).chosen
    return None if chosen is None else chosen.undersize_um


def why(*hubs: Candidate) -> str:
    return str(choose(*hubs).because[0].code)


def test_the_cheapest_under_the_limit_goes_not_the_safest() -> None:
    hubs = (hub(0, 0.10, 40), hub(25, 0.03, 60), hub(50, 0.01, 120))
    assert sent(*hubs) == 25
    assert why(*hubs) == Reason.CHEAPEST
    # what a reader will ask about: the next, and it costs more
    runner_up = choose(*hubs).runner_up
    assert runner_up is not None
    assert runner_up.undersize_um == 50


def test_of_about_the_same_cost_the_shelf_goes_first_then_the_safer() -> None:
    assert sent(hub(25, 0.03, 100), hub(50, 0.02, 104)) == 50
    assert sent(hub(25, 0.03, 100), hub(50, 0.02, 106)) == 25
    assert sent(hub(25, 0.03, 100, hub="H1"), hub(50, 0.02, 102)) == 25


@pytest.mark.parametrize("risk", [LIMIT - 0.004, LIMIT])
def test_near_the_limit_it_says_at_the_limit_and_names_what_lies_across(risk: float) -> None:
    hubs = (hub(0, LIMIT + 0.002, 50), hub(25, risk, 60), hub(50, 0.02, 120))
    assert why(*hubs) == Reason.AT_LIMIT
    runner_up = choose(*hubs).runner_up
    assert runner_up is not None
    assert runner_up.undersize_um == 0


def test_where_none_is_under_the_limit_the_cheapest_of_the_least_chances_goes_and_says_so() -> None:
    hubs = (hub(0, 0.20, 20), hub(25, 0.083, 60), hub(50, 0.08, 90))
    assert sent(*hubs) == 25
    assert why(*hubs) == Reason.LEAST_CHANCE


def test_above_twice_the_limit_nothing_is_sent() -> None:
    hubs = (hub(0, 0.3, 20), hub(25, 0.2, 60), hub(50, 0.1001, 90))
    assert sent(*hubs) is None
    assert choose(*hubs).do == "decline"
    assert why(*hubs) == Reason.NO_HUB_HOLDS


def test_no_demand_but_that_on_the_chance_is_ever_waived() -> None:
    rattles = hub(0, 0.01, 10, refused=(Refusal.SHAKES,))
    assert sent(rattles, hub(25, 0.08, 60)) == 25
    assert sent(rattles) is None
    assert why(rattles) == Reason.NONE_TIGHT
    assert why(rattles, hub(90, 0.01, 10, refused=(Refusal.TOO_DEEP,))) == Reason.TOO_DEEP


def test_where_nothing_is_known_the_loosest_with_a_small_gap_goes_and_its_chance_is_not_known() -> None:
    hubs = (hub(0, None, 0, station_gap_um=40.0), hub(25, None, 5, station_gap_um=20.0), hub(50, None, 9))
    decision = choose(*hubs)
    assert decision.chosen is not None
    assert decision.chosen.undersize_um == 25
    assert decision.chosen.risk.value is None
    assert why(*hubs) == Reason.NOTHING_KNOWN
    assert sent(hubs[0]) is None


def test_what_a_choice_means_for_the_workshop() -> None:
    assert choose(hub(0, 0.01, 1, special=True)).do == "make-special"
    assert choose(hub(0, 0.01, 1, method="workshop-fitted")).do == "send-shaft-here"
    assert choose(hub(0, 0.01, 1, second_um=25.0)).do == "send-two"


def test_where_nothing_is_known_and_all_leave_too_much_the_smallest_gap_is_told() -> None:
    wide = [hub(um, None, 50, station_gap_um=gap) for um, gap in ((0, 60.0), (25, 41.0), (50, 47.0))]
    found = choose(*wide)
    assert found.chosen is None
    assert found.because[0].code == Reason.NO_HUB_HOLDS
    assert found.because[0].facts == {"gap_um": 41.0}
