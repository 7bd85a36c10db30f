"""Every chart: its columns exist, its axes say what they show in which unit, its title says what is seen."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.report.support import small_frames
from tests.report.support.chart_spec import (
    axis_titles,
    empty_views,
    figure_lines,
    misspelt_columns,
    units,
    untitled_axes,
)
from wearstats.report.contact.chart import contact_chart
from wearstats.report.gauging.chart import measurers_chart, plan_chart
from wearstats.report.loosening.gap_chart import gap_risk_chart
from wearstats.report.loosening.survival_chart import curves_chart
from wearstats.report.loosening.validation_charts import calibration_chart, law_chart, silence_chart
from wearstats.report.methods.dots_chart import dots_chart
from wearstats.report.rendering.charts import AnyChart, chart_png, chart_spec, chart_svg
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.review.charts import at_risk_chart, forecasts_chart, rates_chart
from wearstats.report.review.funnel_chart import funnel_chart
from wearstats.report.review.returns_chart import returns_chart
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.ladder_chart import ladder_chart
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.stock.chart import cost_chart, sizes_chart
from wearstats.report.stock.demand_chart import fan_chart, shelf_chart
from wearstats.report.wear.chart import fleet_chart
from wearstats.report.wear.growth_chart import growth_chart

GOLDEN = Path(__file__).parents[1] / "golden"

Draw = Callable[[int], AnyChart]


def _fleet(width: int) -> AnyChart:
    return fleet_chart(small_frames.fleet(), small_frames.sizes(), width=width)


def _map(width: int) -> AnyChart:
    return map_chart(small_frames.shaft_map(), shaft="S-3", hub="the hub 0.05 mm undersize", width=width)


def _map_without_hub(width: int) -> AnyChart:
    return map_chart(small_frames.shaft_map(), shaft="S-3", width=width)


def _curves(width: int) -> AnyChart:
    return curves_chart(small_frames.curves(), small_frames.at_risk(), horizon_months=12, width=width)


def _returns(width: int) -> AnyChart:
    return returns_chart(small_frames.returns(), width=width)


def _rates(width: int) -> AnyChart:
    return rates_chart(small_frames.quarters(), width=width)


def _forecasts(width: int) -> AnyChart:
    return forecasts_chart(small_frames.forecasts(), width=width)


def _funnel(width: int) -> AnyChart:
    return funnel_chart(small_frames.changes(), quarter="2026Q3", share=0.2, width=width)


def _at_risk(width: int) -> AnyChart:
    return at_risk_chart(small_frames.hubs_at_risk(), width=width)


def _fleet_with_laws(width: int) -> AnyChart:
    fleet = small_frames.fleet().assign(read_um_below_new=lambda frame: frame["width_um_below_new"] + 3)
    sizes = small_frames.sizes()
    served = sizes[["pattern", "undersize_um"]].assign(share=0.31)
    return fleet_chart(fleet, sizes, laws=small_frames.laws(), shares=served, width=width)


def _growth(width: int) -> AnyChart:
    return growth_chart(small_frames.growth_points(), small_frames.growth_band(), width=width)


def _measurers(width: int) -> AnyChart:
    return measurers_chart(small_frames.measurers(), width=width)


def _plan(width: int) -> AnyChart:
    return plan_chart(small_frames.plans(), size_step_um=25.0, width=width)


def _history(width: int) -> AnyChart:
    return history_chart(small_frames.history(), shaft="S-3", width=width)


def _gap_risk(width: int) -> AnyChart:
    return gap_risk_chart(
        small_frames.gap_curve(),
        small_frames.gap_rug(),
        horizon_months=12,
        risk_limit=0.05,
        crossing_um=7.2,
        width=width,
    )


def _calibration(width: int) -> AnyChart:
    return calibration_chart(small_frames.calibration(), horizon_months=12, width=width)


def _law(width: int) -> AnyChart:
    return law_chart(small_frames.beside_curve(), horizon_months=12, width=width)


def _silence(width: int) -> AnyChart:
    return silence_chart(small_frames.silence(), chance=0.5, low=0.3, high=0.7, horizon_months=12, width=width)


def _hundred_hubs(width: int) -> AnyChart:
    return dots_chart(0.18, 0.073, sure="11 more (0.8 to 22)", horizon_months=12.0, width=width)


def _size_costs(width: int) -> AnyChart:
    return cost_chart(small_frames.size_plans(), today=6900.0, currency="EUR", pattern="D8", width=width)


def _sizes_chosen(width: int) -> AnyChart:
    return sizes_chart(small_frames.size_needs(), small_frames.best_sets(), pattern="D8", width=width)


def _demand(width: int) -> AnyChart:
    return fan_chart(small_frames.demand_quarters(), small_frames.demand_fan(), pattern="D8", width=width)


def _shelf(width: int) -> AnyChart:
    return shelf_chart(small_frames.shelf(), pattern="D8", width=width)


def _contact(width: int) -> AnyChart:
    return contact_chart(small_frames.contact_bands(), small_frames.contact_fittings(), width=width)


def _ladder(width: int) -> AnyChart:
    title = "0.050, owner files: 48 minutes, 4.4 of 100 loose in 12 months"
    return ladder_chart(small_frames.ladder(), title=title, months=12.0, currency="EUR", width=width)


CHARTS: dict[str, Draw] = {
    "ladder": _ladder,
    "contact": _contact,
    "demand": _demand,
    "shelf": _shelf,
    "size-costs": _size_costs,
    "sizes-chosen": _sizes_chosen,
    "gap-risk": _gap_risk,
    "calibration": _calibration,
    "law": _law,
    "silence": _silence,
    "hundred-hubs": _hundred_hubs,
    "fleet": _fleet,
    "fleet-with-laws": _fleet_with_laws,
    "growth": _growth,
    "measurers": _measurers,
    "plan": _plan,
    "history": _history,
    "map": _map,
    "map-without-hub": _map_without_hub,
    "curves": _curves,
    "returns": _returns,
    "rates": _rates,
    "forecasts": _forecasts,
    "at-risk": _at_risk,
    "funnel": _funnel,
}
TITLES = {
    "ladder": "0.050, owner files: 48 minutes, 4.4 of 100 loose in 12 months",
    "contact": "Of 100 sides 53 marked where 51 were predicted to bear; of 3 groups of hubs in 1 surely fewer, in 1 "
    "surely more",
    "demand": "D8: the next quarter needs about 9 hubs, between 4 and 16; 2026Q2 needed 9",
    "shelf": "D8: make 8 hubs now, all of 0.05 mm",
    "size-costs": "D8: 3 well-chosen sizes cost 5\u202f200 EUR a year, 1\u202f700 less than today's",
    "rates": "In 2026Q3 2.22 hubs worked loose in 100 hub-months, 0.95 in the four quarters before",
    "forecasts": "What came lay within what was predicted in 2 of 3 quarters; in all 9 failures came where 5 were "
    "expected",
    "at-risk": "Most likely to be loose within a quarter: the hub on shaft S-3, 61 in 100",
    "funnel": "In 2026Q3 1 of 4 groups changed by more than chance against the past: batch B7, worked loose",
    "sizes-chosen": "D8: 3 sizes serve 83 of 100 shafts; the one of 0.02 mm most of them, 50",
    "gap-risk": "Within 12 months 3 in 100 hubs work loose where no gap is left, 12 at 25 µm (between 7.2 and 19)",
    "calibration": "What happened agrees, as far as chance allows, with what was predicted in 2 of 3 groups of hubs; "
    "in the riskiest 40 in 100 worked loose, 20 were predicted",
    "law": "After 12 months 10 in 100 hubs have worked loose by the model, 11 by the curve without it",
    "silence": "As far as these data tell what silence means, between 10 and 13 in 100 hubs work loose within 12 "
    "months; under all meanings tried, between 9 and 16",
    "hundred-hubs": "Of 100 hubs 18 work loose within 12 months as supplied, 7.3 fitted by hand",
    "fleet": "Half the D10 shafts have lost more than 0.025 mm, half the D8 shafts have lost more than 0.031 mm",
    "fleet-with-laws": "Half the D10 shafts have lost more than 0.025 mm, half the D8 shafts have lost more than "
    "0.031 mm",
    "growth": "Shafts lose 2.0 µm in 1000 hours while their hub stays tight (between 1.2 and 2.8)",
    "measurers": "Of the 3 who measured more than once 1 surely reads smaller than the rest, by up to 9 µm",
    "plan": "Measuring all places instead of 2 splines at one station brings 10 more shafts in 100 the right hub; a "
    "check piece besides, 5 more",
    "history": "Shaft S-3: 0.021 mm lost as first measured, 0.028 mm as last; no change is sure",
    "map": "Shaft S-3 has lost 0.028 mm on average, most at the middle",
    "map-without-hub": "Shaft S-3 has lost 0.028 mm on average, most at the middle",
    "curves": "Still tight after 12 months: 88 of 100 as-supplied hubs, 97 of 100 owner-fitted",
    "returns": "20 hubs came back; the commonest reason was: would not go on, 16 times",
}
every_chart = pytest.mark.parametrize("name", CHARTS)


@functools.cache
def wide_spec(name: str) -> dict[str, Any]:
    """Give the specification of a wide chart, checked against the language's own schema; tests only read it."""
    return chart_spec(CHARTS[name](WIDE))


@every_chart
def test_every_encoded_column_is_in_the_data(name: str) -> None:
    spec = wide_spec(name)
    assert misspelt_columns(spec) == []
    assert empty_views(spec) == 0


@every_chart
def test_every_axis_is_named_or_told_to_be_silent(name: str) -> None:
    assert untitled_axes(wide_spec(name)) == []


@every_chart
def test_every_type_is_written_out(name: str) -> None:
    for unit in units(wide_spec(name)):
        for channel, encoding in unit["encoding"].items():
            assert "field" not in encoding or "type" in encoding or channel in {"x2", "y2"}, (channel, encoding)


@every_chart
def test_title_says_what_is_seen_and_the_description_begins_with_it(name: str) -> None:
    spec = wide_spec(name)
    assert " ".join(spec["title"]["text"]) == TITLES[name]
    assert spec["description"].startswith(TITLES[name])


@pytest.mark.parametrize("width", [WIDE, NARROW])
@every_chart
def test_picture_is_no_wider_than_asked(name: str, width: int) -> None:
    size = re.search(r'\bwidth="([\d.]+)"', chart_svg(CHARTS[name](width), name="x"))
    assert size is not None
    assert float(size[1]) <= width


@every_chart
def test_figures_are_as_they_were(name: str) -> None:
    # marks, fields, domains and figures: how it is laid out may change without anybody's leave
    assert figure_lines(wide_spec(name)) == (GOLDEN / f"{name}.jsonl").read_text(encoding="utf-8")


def test_axes_carry_units() -> None:
    assert axis_titles(chart_spec(_fleet(WIDE))) == ["shafts", "spline width below new, µm (1000 µm = 1 mm)"]
    assert axis_titles(chart_spec(_curves(WIDE))) == ["months since fitting", "hubs still tight, %"]
    assert axis_titles(chart_spec(_returns(WIDE))) == ["quarter of the return"]


def test_a_misspelt_column_is_found() -> None:
    spec = chart_spec(_returns(WIDE))
    next(iter(units(spec)))["encoding"]["x"]["field"] = "quater"
    assert misspelt_columns(spec) == ["x: quater"]


def test_two_groups_differ_in_more_than_colour() -> None:
    line = next(unit for unit in units(chart_spec(_curves(WIDE))) if "strokeDash" in unit["encoding"])
    dashes = line["encoding"]["strokeDash"]["scale"]["range"]
    assert dashes[0] != dashes[1]


def test_drawing_is_the_same_each_time() -> None:
    assert chart_svg(_map(WIDE), name="m") == chart_svg(_map(WIDE), name="m")


def test_png_is_a_picture() -> None:
    assert chart_png(_map(NARROW), scale=1.0).startswith(b"\x89PNG\r\n")


def test_a_hub_no_longer_offered_is_not_drawn() -> None:
    spec = chart_spec(_fleet(WIDE))
    names = {row["name"] for unit in units(spec) for row in unit["rows"] if "name" in row}
    assert names == {"0.00", "0.025", "0.05"}


def test_minus_and_zero_are_printed_well() -> None:
    texts = [row["text"] for unit in units(chart_spec(_map_without_hub(WIDE))) for row in unit["rows"]]
    assert "\u22122" in texts
    assert not any(text.startswith("-") for text in texts)
