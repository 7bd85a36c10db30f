"""What the simulator draws has the spreads, rates and dependences that its scenario states.

All expected values are the scenario's own parameters or textbook formulas written out here; bounds are about four
standard errors at the fleet's size.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from wearstats.domain.contact import gap_left
from wearstats.domain.tables import STATIONS
from wearstats.domain.units import UM_PER_UNIT
from wearstats.simulate import Fleet, Scenario, simulate
from wearstats.simulate.scenario.scenario import Choice

SHAFTS = 4000


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return simulate(Scenario(shafts=SHAFTS), rng=np.random.default_rng(20260101))


def _read_above(fleet: Fleet) -> pd.DataFrame:
    """Readings with everything known about them: ``above_um``, ``true_um``, ``bias_um`` (both biases), ``step_um``."""
    frames, truth = fleet.frames, fleet.truth
    readings = frames["readings"].merge(
        frames["inspections"][["inspection", "shaft", "unit", "gauge", "measured_at", "spline_1_marked"]],
        on="inspection",
    )
    readings = readings.merge(frames["gauges"][["gauge", "kind", "resolution"]], on="gauge")
    readings = readings.merge(frames["shafts"][["shaft", "pattern"]], on="shaft")
    readings = readings.merge(frames["patterns"][["pattern", "width_mm"]], on="pattern")
    occasion = truth.inspections.merge(truth.measurers, on="measured_by", suffixes=("", "_measurer"))
    occasion = occasion.assign(both_um=occasion["bias_um"] + occasion["bias_um_measurer"])
    readings = readings.merge(occasion[["inspection", "period", "both_um"]], on="inspection")
    unit_um = readings["unit"].map({unit: float(um) for unit, um in UM_PER_UNIT.items()})
    station = readings["station"].map({name: k for k, name in enumerate(STATIONS)})
    true = truth.width_um[readings["period"], readings["spline"].astype(int) - 1, station]
    return readings.assign(
        above_um=readings["width"].astype(float) * unit_um - readings["width_mm"] * 1000.0,
        true_um=true,
        step_um=readings["resolution"].astype(float) * unit_um,
    )


def _close(found: float, meant: float, count: int, *, times: float = 4.0) -> bool:
    """Whether a standard deviation found on `count` normal draws agrees with the one meant."""
    return bool(abs(found - meant) < times * meant / np.sqrt(2 * count))


def test_shafts_have_the_stated_components(fleet: Fleet) -> None:
    scenario, truth = fleet.truth.scenario, fleet.truth
    first = truth.periods.drop_duplicates("shaft").index.to_numpy()
    shafts = truth.periods.loc[first, ["shaft"]].merge(truth.shafts, on="shaft", how="left")
    width = truth.width_um[first[shafts["pattern"] == "D8"]][:, :8, :]
    n, splines, stations = width.shape
    # method of moments for a balanced nested layout with independent splines, shaft x station and places
    spline_mean = width.mean(axis=2)
    station_mean = width.mean(axis=1)
    rest = width - spline_mean[:, :, None] - station_mean[:, None, :] + width.mean(axis=(1, 2))[:, None, None]
    cell_var = (rest**2).sum() / (n * (splines - 1) * (stations - 1))
    spline_var = spline_mean.var(axis=1, ddof=1).mean() - cell_var / stations
    own = station_mean - station_mean.mean(axis=1, keepdims=True)
    fixed = own.mean(axis=0)
    own_var = ((own - fixed) ** 2).sum() / ((n - 1) * (stations - 1)) - cell_var / splines
    assert _close(np.sqrt(cell_var), scenario.cell_sd_um, n * (splines - 1) * 2)
    assert _close(np.sqrt(spline_var), scenario.spline_sd_um, n * (splines - 1), times=5)
    assert _close(np.sqrt(own_var), scenario.shaft_station_sd_um, n * 2, times=5)
    assert np.allclose(fixed, scenario.station_um, atol=0.5)


def test_wear_is_a_gamma_over_the_worn_share(fleet: Fleet) -> None:
    scenario, shafts = fleet.truth.scenario, fleet.truth.shafts
    assert abs(shafts["unworn"].mean() - scenario.unworn_share) < 4 * np.sqrt(0.2 * 0.8 / SHAFTS)
    assert _close(float(shafts["new_um"].std()), scenario.new_sd_um, SHAFTS)
    for kind in scenario.duties:
        worn = shafts[(shafts["duty"] == kind.duty) & ~shafts["unworn"]]["wear_um"]
        mean = scenario.wear_mean_um * kind.wear_factor
        # a gamma of shape k has the coefficient of variation 1 / sqrt(k)
        assert abs(worn.mean() - mean) < 4 * mean / np.sqrt(scenario.wear_shape * len(worn))
        assert abs(worn.std() / worn.mean() * np.sqrt(scenario.wear_shape) - 1) < 0.1


def test_stated_wear_quantiles_are_those_of_the_shafts(fleet: Fleet) -> None:
    law = fleet.truth.to_dict()["wear_um"]
    shafts = fleet.truth.shafts
    below = shafts["wear_um"] - shafts["new_um"]
    assert abs(below.mean() - law["mean"]) < 4 * below.std() / np.sqrt(SHAFTS)
    for level, quantile in law["quantiles"].items():
        share = float((below <= quantile).mean())
        assert abs(share - float(level)) < 4 * np.sqrt(float(level) * (1 - float(level)) / SHAFTS)


def test_stated_spread_between_shafts_is_that_of_the_shafts(fleet: Fleet) -> None:
    shafts = fleet.truth.shafts
    stated = fleet.truth.to_dict()["components_um"]["shaft"]
    # the gamma's tail makes the spread of a spread wider than a normal's
    assert abs((shafts["new_um"] - shafts["wear_um"]).std() / stated - 1) < 0.06


def test_biases_have_the_stated_spreads_and_means(fleet: Fleet) -> None:
    scenario, truth = fleet.truth.scenario, fleet.truth
    measurers = truth.measurers.merge(fleet.frames["gauges"], on="gauge")
    home = measurers["measured_by"].str.startswith("owner")
    caliper = measurers["kind"] == "caliper"
    owners = measurers[home & ~caliper]["bias_um"]
    assert abs(owners.mean() - scenario.home_bias_um) < 4 * owners.std() / np.sqrt(len(owners))
    assert _close(float(owners.std()), scenario.home_measurer_sd_um, len(owners))
    rough = measurers[home & caliper]["bias_um"]
    assert _close(float(rough.std()), scenario.caliper_measurer_sd_um, len(rough))
    seen = truth.inspections.merge(fleet.frames["inspections"][["inspection", "measured_at", "gauge"]], on="inspection")
    seen = seen.merge(fleet.frames["gauges"], on="gauge")
    for where, kind, meant in (
        ("home", False, scenario.home_inspection_sd_um),
        ("home", True, scenario.caliper_inspection_sd_um),
        ("workshop", False, scenario.workshop_inspection_sd_um),
    ):
        part = seen[(seen["measured_at"] == where) & ((seen["kind"] == "caliper") == kind)]["bias_um"]
        assert _close(float(part.std()), meant, len(part))


def test_readings_are_truth_and_biases_with_the_stated_repeatability_and_rounding(fleet: Fleet) -> None:
    scenario = fleet.truth.scenario
    readings = _read_above(fleet)
    readings = readings[readings["spline_1_marked"] == "yes"]
    error = readings["above_um"] - readings["true_um"] - readings["both_um"]
    rough = readings["kind"] == "caliper"
    for where, caliper, repeat in (
        ("home", False, scenario.home_repeatability_um),
        ("home", True, scenario.caliper_repeatability_um),
        ("workshop", False, scenario.workshop_repeatability_um),
    ):
        part = (readings["measured_at"] == where) & (rough == caliper)
        for step, found in error[part].groupby(readings["step_um"].round(6)):
            # rounding adds the variance of a uniform of one step (Sheppard)
            meant = np.sqrt(repeat**2 + float(str(step)) ** 2 / 12)
            assert abs(found.mean()) < 5 * meant / np.sqrt(len(found)) + 0.15
            assert abs(found.std() / meant - 1) < 0.04


def test_unmarked_inspections_number_from_another_spline_but_read_the_same_shaft(fleet: Fleet) -> None:
    readings = _read_above(fleet)
    blind = readings[(readings["spline_1_marked"] == "no") & (readings["kind"] != "caliper")]
    error = blind["above_um"] - blind["true_um"] - blind["both_um"]
    scenario = fleet.truth.scenario
    assert abs(error.mean()) < 0.5
    # differences between two splines of one shaft come on top
    assert error.std() > np.hypot(scenario.home_repeatability_um, scenario.spline_sd_um)


def test_check_pieces_show_both_biases(fleet: Fleet) -> None:
    frames, truth = fleet.frames, fleet.truth
    seen = frames["inspections"][frames["inspections"]["check_piece"].notna()]
    home = frames["inspections"]["measured_at"] == "home"
    assert abs(len(seen) / home.sum() - truth.scenario.check_piece_share) < 4 * np.sqrt(0.25 * 0.75 / home.sum())
    seen = seen.merge(
        truth.inspections.merge(truth.measurers, on="measured_by", suffixes=("", "_who")), on="inspection"
    )
    unit_um = seen["unit"].map({unit: float(um) for unit, um in UM_PER_UNIT.items()})
    offset = seen["check_reading"].astype(float) * unit_um - seen["check_piece"].astype(float) * 1000.0
    both = seen["bias_um"] + seen["bias_um_who"]
    assert np.corrcoef(offset, both)[0, 1] > 0.6
    assert abs((offset - both).mean()) < 1.0


@pytest.mark.parametrize("choice", ["readings", "unstored", "random"])
def test_the_gap_left_is_the_one_geometry_on_the_true_map(fleet: Fleet, choice: Choice) -> None:
    if choice != "readings":
        fleet = simulate(Scenario(shafts=300, choice=choice), rng=np.random.default_rng(3))
    fittings = fleet.truth.fittings
    maps = fleet.truth.width_um[fittings["period"]]
    gaps = gap_left(maps, fittings["space_um"].to_numpy()[:, None, None])
    assert np.allclose(np.nanmean(gaps, axis=(1, 2)), fittings["gap_left_um"])
    clearance = fittings["space_um"] - np.nanmean(maps, axis=(1, 2))
    assert np.allclose(clearance, fittings["clearance_um"])
    # with the same zero for all, a hub's space never leaves less than its clearance
    assert (fittings["gap_left_um"] >= fittings["clearance_um"] - 1e-9).all()


def test_spaces_lie_about_their_undersize_and_are_gauged_with_the_stated_error(fleet: Fleet) -> None:
    scenario, frames = fleet.truth.scenario, fleet.frames
    hubs = frames["hubs"].merge(fleet.truth.hubs[["hub", "space_um"]], on="hub").merge(frames["patterns"], on="pattern")
    meant = (hubs["space_width_mm_y"] - hubs["width_mm"]) * 1000.0 - hubs["undersize_um"].astype(float)
    spread = float((hubs["space_um"] - meant).std())
    # hubs share their batches, so the spread is known less well than from as many single ones
    assert abs(spread / np.hypot(scenario.batch_sd_um, scenario.hub_sd_um) - 1) < 0.25
    gauged = (hubs["space_width_mm_x"].astype(float) - hubs["width_mm"]) * 1000.0 - hubs["space_um"]
    assert _close(float(gauged.std()), float(np.sqrt(scenario.gauging_sd_um**2 + 1 / 12)), int(gauged.notna().sum()))


def test_hubs_work_loose_by_the_stated_hazard(fleet: Fleet) -> None:
    scenario, fittings = fleet.truth.scenario, fleet.truth.fittings
    ran = fittings[fittings["ran"]]
    shape, beta = scenario.loosening_shape, scenario.log_hazard_per_10um
    at_zero = -np.log(1 - scenario.risk_at_zero_gap)
    months = ran["loose_months"] - 0.5 / 30.4375  # days are counted up
    cumulative = at_zero * (months / 12) ** shape * np.exp(beta * ran["gap_left_um"] / 10)
    # the cumulative hazard at the event is a unit exponential, whatever the gap
    tight = ran["gap_left_um"] < ran["gap_left_um"].median()
    for part in (cumulative[tight], cumulative[~tight]):
        assert abs(part.mean() - 1) < 4 / np.sqrt(len(part))
        assert abs((part < np.log(2)).mean() - 0.5) < 4 * 0.5 / np.sqrt(len(part))


def test_other_causes_come_at_their_rate(fleet: Fleet) -> None:
    ran = fleet.truth.fittings[fleet.truth.fittings["ran"]]
    rate = sum(removal.rate_per_month for removal in fleet.truth.scenario.removals)
    assert abs(ran["removed_months"].mean() * rate - 1) < 4 / np.sqrt(len(ran))


def test_failures_are_reported_unasked_with_the_stated_chance() -> None:
    scenario = Scenario(shafts=SHAFTS, risk_at_zero_gap=0.2, known_later_share=0.0)
    fleet = simulate(scenario, rng=np.random.default_rng(11))
    fittings = fleet.truth.fittings
    failed = fittings[fittings["failed"]]
    told = fleet.frames["follow_ups"]
    unasked = told[told["state"].isin(["loose", "broken"]) & (told["prompted"] == "unasked")]["fitting"]
    share = failed["fitting"].isin(unasked).mean()
    # a question that happens to come between failure and report, or the end of the study, takes a few per cent
    assert scenario.reported_unasked - 0.04 < share < scenario.reported_unasked + 0.03
    asked = told[told["prompted"] == "asked"]
    assert (asked["state"] == "tight").sum() > 1000
    assert (asked["state"] == "no-answer").sum() > 500


def test_the_policy_changes_half_way(fleet: Fleet) -> None:
    sent = fleet.frames["dispatches"]
    early = sent[sent["sent_on"] < "2025-04-01"]["sent_as"].eq("as-supplied").mean()
    late = sent[sent["sent_on"] >= "2025-04-01"]["sent_as"].eq("as-supplied").mean()
    assert 0.5 < early < 0.66
    assert 0.18 < late < 0.32


def test_shares_of_measuring_are_as_stated(fleet: Fleet) -> None:
    scenario, seen = fleet.truth.scenario, fleet.frames["inspections"]
    periods = fleet.truth.inspections.merge(seen[["inspection", "measured_at"]], on="inspection")
    count = pd.crosstab(periods["period"], periods["measured_at"])
    assert abs((count["home"] == 2).mean() - scenario.home_twice_share) < 0.02
    assert abs((count["workshop"] == 1).mean() - scenario.workshop_share) < 0.05
    owners = fleet.truth.shafts["owner"].value_counts()
    assert abs((owners == 2).mean() - scenario.two_shaft_owner_share) < 0.01


def _slopes(fleet: Fleet) -> NDArray[np.float64]:
    """Least squares of the undersize sent on the mean width read and the true mean width, with a constant."""
    readings = _read_above(fleet)
    read = readings.groupby("inspection")["above_um"].mean()
    sent = fleet.frames["dispatches"].merge(fleet.frames["hubs"], on="hub").dropna(subset="inspection")
    period = fleet.truth.inspections.set_index("inspection")["period"]
    single = fleet.truth.inspections["period"].value_counts()
    of_sent = sent["inspection"].map(period)
    sent = sent[of_sent.map(single) == 1]
    true = np.nanmean(fleet.truth.width_um[sent["inspection"].map(period)], axis=(1, 2))
    design = np.column_stack([np.ones(len(sent)), sent["inspection"].map(read), true])
    found, *_ = np.linalg.lstsq(design, sent["undersize_um"].to_numpy(dtype=float), rcond=None)
    return np.asarray(found[1:], dtype=np.float64)


@pytest.mark.parametrize(
    ("choice", "by_read", "by_truth"), [("readings", -1.0, 0.0), ("unstored", 0.0, -1.0), ("random", 0.0, 0.0)]
)
def test_what_the_hub_is_chosen_on(choice: Choice, by_read: float, by_truth: float) -> None:
    scenario = Scenario(shafts=2500, choice=choice, slack_limit_um=np.inf, decline_hollow_um=np.inf)
    slopes = _slopes(simulate(scenario, rng=np.random.default_rng(5)))
    # the largest sizes kept cut the slope a little
    assert abs(slopes[0] - by_read) < 0.2
    assert abs(slopes[1] - by_truth) < 0.2


def test_without_any_scatter_readings_are_the_truth() -> None:
    scenario = Scenario(
        shafts=60, home_bias_um=0, home_measurer_sd_um=0, workshop_measurer_sd_um=0, caliper_measurer_sd_um=0,
        home_inspection_sd_um=0, workshop_inspection_sd_um=0, caliper_inspection_sd_um=0, home_repeatability_um=0,
        workshop_repeatability_um=0, caliper_repeatability_um=0, missing_share=0, ends_only_share=0,
    )  # fmt: skip
    readings = _read_above(simulate(scenario, rng=np.random.default_rng(2)))
    marked = readings[readings["spline_1_marked"] == "yes"]
    assert ((marked["above_um"] - marked["true_um"]).abs() <= marked["step_um"] / 2 + 1e-6).all()


def test_shafts_wear_on_only_under_a_hub_and_faster_when_loose(fleet: Fleet) -> None:
    scenario, truth = fleet.truth.scenario, fleet.truth
    periods = truth.periods.assign(mean_um=np.nanmean(truth.width_um, axis=(1, 2)))
    first = periods.drop_duplicates("shaft").set_index("shaft")
    later = periods[periods.duplicated("shaft")]
    before = first.loc[later["shaft"]]
    lost = before["mean_um"].to_numpy() - later["mean_um"].to_numpy()
    hours = later["hours"].to_numpy() - before["hours"].to_numpy()
    assert (lost > -1e-9).mean() > 0.99
    rate = lost.sum() / hours.sum() * 1000.0
    assert scenario.growth_um_per_1000h < rate < scenario.growth_um_per_1000h * scenario.loose_growth_factor


def test_the_same_seed_gives_the_same_fleet_and_another_another() -> None:
    one, two, three = (simulate(Scenario(shafts=50), rng=np.random.default_rng(seed)) for seed in (4, 4, 5))
    for name, frame in one.frames.items():
        pd.testing.assert_frame_equal(frame, two.frames[name])
    assert not one.frames["readings"].equals(three.frames["readings"])


@pytest.mark.parametrize("shafts", [1, 2, 7])
def test_the_smallest_fleets_can_be_invented(shafts: int) -> None:
    fleet = simulate(Scenario(shafts=shafts), rng=np.random.default_rng(shafts))
    assert len(fleet.frames["shafts"]) <= shafts
    assert fleet.truth.to_dict()["invented"] is True


def test_a_fleet_without_other_causes_or_effects() -> None:
    scenario = Scenario(
        shafts=800,
        removals=(),
        log_hazard_per_10um=0.0,
        prefit_shares=(),
        loosening_family="log-logistic",
        frailty_sd=0.3,
    )
    fleet = simulate(scenario, rng=np.random.default_rng(8))
    assert set(fleet.frames["follow_ups"]["cause"].dropna()) <= {"flanks", "unknown"}
    assert fleet.truth.risk(0.0, 12.0) == pytest.approx(scenario.risk_at_zero_gap)
    assert fleet.truth.risk(50.0, 12.0) == pytest.approx(scenario.risk_at_zero_gap)
