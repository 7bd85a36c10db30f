"""Titles that are worked out stay true, and sentences, where there is one of something, or nothing, or a draw."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.report.support import small_frames
from wearstats.report.contact.chart import contact_title
from wearstats.report.gauging.chart import measurers_title, plan_title
from wearstats.report.loosening.gap_chart import gap_risk_title
from wearstats.report.loosening.survival_chart import curves_title
from wearstats.report.loosening.validation_charts import calibration_title, law_title, silence_title
from wearstats.report.methods.charts import chances_title, evidence_title
from wearstats.report.review.charts import forecasts_title, rates_title
from wearstats.report.review.returns_chart import returns_title
from wearstats.report.shaft.map_chart import map_title
from wearstats.report.stock.chart import cost_title, sizes_title
from wearstats.report.stock.demand_chart import fan_title, shelf_title
from wearstats.report.wear.chart import fleet_title
from wearstats.report.wear.growth_chart import growth_title


def _fleet(widths: list[float]) -> str:
    return fleet_title(pd.DataFrame({"pattern": "D8", "width_um_below_new": widths}))


def test_fleet() -> None:
    assert _fleet([10.0, 21.0, 50.0]) == "Half the D8 shafts have lost more than 0.021 mm"
    assert _fleet([21.0]) == "The one D8 shaft has lost 0.021 mm"
    assert _fleet([-5.0, -3.0, 8.0]) == "Half the D8 shafts have lost less than 0.001 mm"
    assert _fleet([-3.0]) == "The one D8 shaft has lost less than 0.001 mm"


def _growth(low: float, mean: float, high: float) -> str:
    ends = {"low_um": low, "lost_um": mean, "high_um": high}
    return growth_title(pd.DataFrame([{"between": "all", "since_h": 2000.0} | ends]))


def test_growth() -> None:
    assert _growth(1.0, 4.0, 7.0) == "Shafts lose 2.0 µm in 1000 hours (between 0.5 and 3.5)"
    unsure = "Whether shafts wear cannot be told: they lose between \u22120.5 and 3.5 µm in 1000 hours"
    assert _growth(-1.0, 4.0, 7.0) == unsure
    assert growth_title(small_frames.growth_band().head(0)).startswith("Too few shafts were measured again")


def _measurers(*ranges: tuple[float, float, float]) -> str:
    return measurers_title(pd.DataFrame(ranges, columns=["low", "bias_um", "high"]))


@pytest.mark.parametrize(
    ("ranges", "said"),
    [
        (
            [(-3.0, 1.0, 5.0), (-4.0, 0.0, 4.0)],
            "Nobody of the 2 who measured more than once surely reads smaller or larger than the rest",
        ),
        (
            [(-3.0, 1.0, 5.0)],
            "The one who measured more than once does not surely read smaller or larger than the rest",
        ),
        # the farthest that is not sure is not told as if it were
        (
            [(2.0, 4.0, 6.0), (-9.0, 12.0, 33.0)],
            "Of the 2 who measured more than once 1 surely reads larger than the rest, by up to 4 µm",
        ),
        (
            [(2.0, 4.0, 6.0), (-9.0, -7.0, -2.0), (-9.0, -8.0, -2.0)],
            "Of the 3 who measured more than once 2 surely read smaller than the rest and 1 surely reads larger, by up "
            "to 8 µm",
        ),
    ],
)
def test_measurers(ranges: list[tuple[float, float, float]], said: str) -> None:
    assert _measurers(*ranges) == said


def test_plan_that_gains_nothing() -> None:
    plans = small_frames.plans()
    same = plans.assign(right_size_probability=0.8, splines=plans["splines"].replace(2, 1))
    said = (
        "Measuring all places instead of 1 spline at one station brings no more shafts in 100 the right hub; a check "
    )
    assert plan_title(same) == said + "piece besides, no more"
    worse = plans.assign(right_size_probability=plans["right_size_probability"].where(~plans["check_piece"], 0.5))
    assert plan_title(worse).endswith("a check piece besides, 34 fewer")


def test_map_of_an_unworn_shaft() -> None:
    new = small_frames.shaft_map().assign(width_um_below_new=-1.0)
    assert map_title(new, "S-3") == "Shaft S-3 has lost less than 0.001 mm on average, evenly as far as can be told"


def test_curves_without_a_failure() -> None:
    curves = small_frames.curves().assign(still_tight=1.0)
    said = "Still tight after 12 months: 100 of 100 as-supplied hubs, 100 of 100 owner-fitted"
    assert curves_title(curves, small_frames.at_risk(), horizon_months=12) == said
    nearly = curves.assign(still_tight=0.997)
    assert curves_title(nearly, small_frames.at_risk(), horizon_months=12) == said.replace("100 of", "99.7 of")


def test_gap_risk_where_all_gaps_are_small() -> None:
    curve = small_frames.gap_curve()
    small = curve.assign(gap_left_um=curve["gap_left_um"] / curve["gap_left_um"].max() * 0.5)
    assert ", 25 at 1 µm (" in gap_risk_title(small, horizon_months=12)


def test_calibration() -> None:
    frame = small_frames.calibration()
    assert calibration_title(frame.iloc[3:]) == (
        "In the one group of hubs 40 in 100 worked loose, 20 were predicted, which is not what chance allows"
    )
    assert calibration_title(frame.iloc[:2]) == (
        "What happened agrees, as far as chance allows, with what was predicted in all 2 groups of hubs; in the "
        "riskiest 5 in 100 worked loose, 6 were predicted"
    )
    assert calibration_title(frame.iloc[2:3]).startswith("Too few hubs were followed")


def test_law() -> None:
    same = small_frames.beside_curve().assign(law=0.1, curve=0.1)
    told = "After 12 months 10 in 100 hubs have worked loose, by the model and by the curve without it"
    assert law_title(same, horizon_months=12) == told


def test_silence_that_makes_no_difference() -> None:
    same = small_frames.silence().assign(risk=0.1)
    said = "As far as these data tell what silence means, about 10 in 100 hubs work loose within 1 month; under all "
    assert silence_title(same, low=0.3, high=0.7, horizon_months=1) == said + "meanings tried, about 10"


def test_methods_with_one_of_each() -> None:
    one = pd.DataFrame([{"quarter": "2026Q3", "supplied": 1, "hand": 1, "low": -0.5, "high": 0.5}])
    assert evidence_title(one).startswith("Not settled after 1 hub as supplied and 1 fitted by hand: ")
    assert chances_title(pd.DataFrame({"chance": [0.5]})).startswith("1 of the one hub went to shafts of a kind")


def test_cost() -> None:
    plans = small_frames.size_plans().assign(chosen=[True, False, False, False])
    told = "D8: 1 well-chosen size costs 9\u202f000 EUR a year"
    assert cost_title(plans, today=None, currency="EUR", pattern="D8") == told
    assert cost_title(plans, today=9000.0, currency="EUR", pattern="D8") == f"{told}, as much as today's"
    assert cost_title(plans, today=8750.0, currency="EUR", pattern="D8") == f"{told}, 250 more than today's"


def test_sizes() -> None:
    need, best = small_frames.size_needs(), small_frames.best_sets()
    one = best.assign(chosen=best["undersize_um"] == 20.0)
    alone = need.assign(undersize_um=need["undersize_um"].where(need["undersize_um"] == 20.0))
    assert sizes_title(alone, one, pattern="D8") == "D8: 1 size serves 50 of 100 shafts"
    draw = need.assign(undersize_um=[20.0, 20.0, 40.0, 40.0, 60.0, float("nan")])
    assert sizes_title(draw, best, pattern="D8") == "D8: 3 sizes serve 83 of 100 shafts, none more than 33"
    none = need.assign(undersize_um=float("nan"))
    assert sizes_title(none, best, pattern="D8") == "D8: 3 sizes serve 0 of 100 shafts"


def test_demand_of_one_hub() -> None:
    fan = small_frames.demand_fan().assign(mean=1.2, low95=0.0, high95=3.0)
    said = "D8: the next quarter needs about 1 hub, between 0 and 3"
    assert fan_title(small_frames.demand_quarters().head(0), fan, pattern="D8") == said


@pytest.mark.parametrize(
    ("make", "said"),
    [
        ([0, 0, 0], "D8: nothing has to be made now, 7 hubs are on the shelf"),
        ([0, 0, 1], "D8: make 1 hub now, of 0.05 mm"),
        ([4, 0, 4], "D8: make 8 hubs of 2 sizes now, 4 of each"),
        ([4, 4, 3], "D8: make 11 hubs of 3 sizes now, at most 4 of each"),
        ([4, 0, 3], "D8: make 7 hubs of 2 sizes now, most of 0.02 mm: 4"),
    ],
)
def test_shelf(make: list[int], said: str) -> None:
    assert shelf_title(small_frames.shelf().assign(make=make), pattern="D8") == said


def test_an_empty_shelf_with_one_hub() -> None:
    one = small_frames.shelf().assign(make=0, on_hand=[1, 0, 0])
    assert shelf_title(one, pattern="D8") == "D8: nothing has to be made now, 1 hub is on the shelf"


def test_rates_say_how_many_quarters_went_before() -> None:
    quarters = small_frames.quarters()
    assert rates_title(quarters.tail(2)).endswith("in 100 hub-months, 0.67 in the quarter before")
    assert rates_title(quarters.tail(3)).endswith("in 100 hub-months, 1.11 in the two quarters before")
    assert rates_title(quarters.tail(1)) == "In 2026Q3 2.22 hubs worked loose in 100 hub-months"
    assert rates_title(quarters.head(0)) == "No hub was in use"


def test_one_quarter_predicted() -> None:
    last = small_frames.forecasts().tail(1)
    assert forecasts_title(last) == "In the one quarter predicted 6 failures came, outside the range; 2 were expected"


def _returns(**counts: int) -> str:
    rows = [{"reason": reason.replace("_", "-"), "returns": number} for reason, number in counts.items()]
    return returns_title(pd.DataFrame(rows))


def test_returns() -> None:
    assert _returns(worked_loose=0) == "No hub has come back"
    assert _returns(worked_loose=1, other=0) == "1 hub came back; the reason was: worked loose"
    assert _returns(worked_loose=2, other=1) == "3 hubs came back; the commonest reason was: worked loose, 2 times"
    assert _returns(worked_loose=2, sent_wrong=2, other=1) == (
        "5 hubs came back; the commonest reasons were: the wrong hub was sent; worked loose; 2 times each"
    )
    assert _returns(worked_loose=1, sent_wrong=1, other=1) == "3 hubs came back; no reason was given more than once"


def test_contact() -> None:
    bands = small_frames.contact_bands()
    assert contact_title(bands.iloc[1:2]) == (
        "Of 100 sides 55 marked where 50 were predicted to bear, no sure difference in any group of hubs"
    )
    assert contact_title(bands.iloc[:1]) == "Of 100 sides 15 marked where 4 were predicted to bear, surely more"
