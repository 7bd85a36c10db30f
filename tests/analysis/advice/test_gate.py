"""What comes before any hub, in its order."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from wearstats.analysis.advice.gate import HubInUse, ShaftFacts, StrayReading, pass_gate
from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.analysis.gauging.agreement import Disagreement
from wearstats.analysis.remark import Remark

DAY = datetime.date(2026, 3, 10)
SOUND = ShaftFacts(measured_on=DAY)
HUB = HubInUse(hub="H1", fitted_on=DAY, state="tight", heard_on=DAY)
STRAY = StrayReading(
    inspection="I1", spline=3, station="middle", found_um=-910.0, expected_um=-10.0, why=Remark("slip")
)


def told(facts: ShaftFacts) -> list[tuple[First, str]]:
    return [(first, str(why.code)) for first, why in pass_gate(facts, limits=AdviceLimits())]


def test_nothing_stands_before_a_sound_shaft() -> None:
    assert told(SOUND) == []


@pytest.mark.parametrize(
    ("changed", "first", "code"),
    [
        ({"conditions": (("cracked", "I1"),)}, First.DO_NOT_RUN, Finding.CRACKED),
        ({"broke_on": DAY}, First.DO_NOT_RUN, Finding.SHAFT_BROKE),
        ({"scrapped_on": DAY}, First.DO_NOT_RUN, Finding.SCRAPPED),
        ({"crack_remark": "cracked at the root"}, First.DO_NOT_RUN, Finding.CRACK_REMARKED),
        ({"in_use": replace(HUB, loose=True, state="loose")}, First.STOP_AND_CHECK, Finding.HUB_LOOSE),
        ({"in_use": replace(HUB, withdrawn_batch="B1")}, First.STOP_AND_CHECK, Finding.HUB_WITHDRAWN),
        ({"in_use": replace(HUB, loose_soon=0.10, loose_now=0.05)}, First.STOP_AND_CHECK, Finding.HUB_MAY_BE_LOOSE),
        ({"conditions": (("twisted", "I1"),)}, First.SEND_SHAFT_HERE, Finding.TWISTED),
        ({"in_use": HUB}, First.NOTHING_TO_SEND, Finding.HUB_TIGHT),
        ({"in_use": replace(HUB, state=None, heard_on=None)}, First.NOTHING_TO_SEND, Finding.HUB_UNHEARD),
        ({"changed": ("replaced", DAY)}, First.MEASURE_FIRST, Finding.CHANGED_SINCE),
        ({"inspections_kept_out": ("I9",)}, First.MEASURE_AGAIN, Finding.INSPECTION_KEPT_OUT),
        ({"conditions": (("bruised", "I1"),)}, First.DRESS_AND_MEASURE, Finding.DAMAGED),
        ({"strays": (STRAY,)}, First.MEASURE_AGAIN, Finding.STRAY_READING),
        ({"level_um": -500.0}, First.MEASURE_AGAIN, Finding.LEVEL_OFF),
        ({"calipers_only": True}, First.MEASURE_AGAIN, Finding.CALIPERS),
        ({"all_equal": ("I1",)}, First.MEASURE_AGAIN, Finding.ALL_EQUAL),
        ({"measured_share": 0.4}, First.MEASURE_AGAIN, Finding.FEW_READ),
        ({"rejected": 2}, First.MEASURE_AGAIN, Finding.REJECTED),
        (
            {"disagreement": Disagreement(first="I1", second="I2", apart_um=60.0, sds=9.0)},
            First.MEASURE_AGAIN,
            Finding.APART,
        ),
        ({"ran": replace(HUB, loose=True)}, First.MEASURE_FIRST, Finding.CAME_LOOSE_SINCE),
    ],
)
def test_each_comes_first_where_it_is_alone(changed: dict[str, object], first: First, code: Finding) -> None:
    assert told(replace(SOUND, **changed))[0] == (first, code)  # type: ignore[arg-type]


def test_all_together_come_in_the_order_of_harm() -> None:
    facts = replace(
        SOUND,
        conditions=(("bruised", "I1"), ("twisted", "I1"), ("cracked", "I2")),
        in_use=replace(HUB, loose=True, state="loose"),
        strays=(STRAY,),
        ran=replace(HUB, loose=True),
    )
    # beside a shaft that may not run nothing is asked of anybody
    assert told(facts) == [(First.DO_NOT_RUN, Finding.CRACKED)]
    order = list(First)
    firsts = [first for first, _ in told(replace(facts, conditions=facts.conditions[:2]))]
    assert firsts == sorted(firsts, key=order.index)
    assert firsts[0] is First.STOP_AND_CHECK


def test_a_hub_that_holds_hinders_nothing_where_another_is_wanted() -> None:
    assert told(replace(SOUND, in_use=HUB, wanted=True)) == []
    # just under the limit nobody is warned
    assert told(replace(SOUND, in_use=replace(HUB, loose_soon=0.0999), wanted=True)) == []


def test_a_stray_that_changes_nothing_stops_nobody() -> None:
    assert told(replace(SOUND, strays=(replace(STRAY, matters=False),))) == []
