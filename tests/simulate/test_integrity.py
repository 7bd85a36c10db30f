"""The invented tables keep their contract: keys, words, ranges, references, and nothing happens before its cause."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wearstats.domain.tables import TABLES, Table
from wearstats.domain.units import UM_PER_UNIT
from wearstats.simulate import DEMO, DEMO_SEED, Fleet, Scenario, simulate
from wearstats.simulate.scenario.scenario import Choice


@pytest.fixture(scope="module", params=["demo", "random", "unstored"])
def fleet(request: pytest.FixtureRequest) -> Fleet:
    if request.param == "demo":
        return simulate(DEMO, rng=np.random.default_rng(DEMO_SEED))
    choice: Choice = "random" if request.param == "random" else "unstored"
    return simulate(Scenario(shafts=300, choice=choice, known_later_share=0.2), rng=np.random.default_rng(7))


@pytest.mark.parametrize("table", [table for table in TABLES if table.name != "photos"], ids=lambda table: table.name)
def test_tables_keep_their_contract(fleet: Fleet, table: Table) -> None:
    frame = fleet.frames[table.name]
    assert list(frame.columns) == [column.name for column in table.columns]
    # the demo's own shelf is kept beside the fleet: wearstats/simulate/demo_shelf.py
    assert len(frame) > 0 or table.name == "hub_spaces"
    assert not frame.duplicated(list(table.key)).any()
    for column in table.columns:
        values = frame[column.name]
        if column.required:
            assert values.notna().all(), column.name
        given = values.dropna()
        if column.kind == "choice":
            assert set(given) <= set(column.choices), column.name
        if column.kind == "yes_no":
            assert set(given) <= {"yes", "no"}, column.name
        if column.kind in ("number", "integer"):
            numbers = given.astype(float)
            assert column.low is None or (numbers >= column.low).all(), column.name
            assert column.high is None or (numbers <= column.high).all(), column.name
        if column.kind == "integer":
            assert (given.astype(float) % 1 == 0).all(), column.name
        if column.kind == "date":
            assert given.str.fullmatch(r"20\d\d-\d\d-\d\d").all(), column.name
            # a loan may end after the last day
            assert column.name == "back_by" or (given <= "2026-09-30").all(), column.name
        if column.kind == "day_or_month":
            assert given.str.fullmatch(r"20\d\d-\d\d(-\d\d)?").all(), column.name


@pytest.mark.parametrize(
    ("table", "column", "other", "key"),
    [
        ("shafts", "pattern", "patterns", "pattern"),
        ("inspections", "shaft", "shafts", "shaft"),
        ("inspections", "gauge", "gauges", "gauge"),
        ("inspections", "piece", "check_pieces", "piece"),
        ("check_piece_loans", "shaft", "shafts", "shaft"),
        ("readings", "inspection", "inspections", "inspection"),
        ("hubs", "batch", "batches", "batch"),
        ("dispatches", "hub", "hubs", "hub"),
        ("dispatches", "shaft", "shafts", "shaft"),
        ("dispatches", "inspection", "inspections", "inspection"),
        ("dispatches", "order", "orders", "order"),
        ("fittings", "shaft", "shafts", "shaft"),
        ("fittings", "hub", "hubs", "hub"),
        ("fittings", "refit_of", "fittings", "fitting"),
        ("follow_ups", "fitting", "fittings", "fitting"),
        ("returns", "hub", "hubs", "hub"),
        ("returns", "fitting", "fittings", "fitting"),
        ("orders", "shaft", "shafts", "shaft"),
        ("shaft_events", "shaft", "shafts", "shaft"),
    ],
)
def test_what_is_named_exists(fleet: Fleet, table: str, column: str, other: str, key: str) -> None:
    assert set(fleet.frames[table][column].dropna()) <= set(fleet.frames[other][key])


def _joined(fleet: Fleet) -> pd.DataFrame:
    """Fittings with their true day of fitting and the last day on which they are known to have been on the shaft."""
    frames = fleet.frames
    fittings = frames["fittings"].merge(frames["dispatches"][["hub", "sent_on", "inspection"]], on="hub", how="left")
    ends = frames["follow_ups"][frames["follow_ups"]["state"].isin(["loose", "broken", "removed"])]
    fittings = fittings.merge(ends[["fitting", "seen_on"]], on="fitting", how="left")
    back = frames["returns"][["hub", "returned_on"]]
    return fittings.merge(back, on="hub", how="left")


def test_nothing_happens_before_its_cause(fleet: Fleet) -> None:
    frames, fittings = fleet.frames, _joined(fleet)
    day = fittings["fitted_on"].where(fittings["fitted_on"].str.len() == 10)
    measured = frames["inspections"].set_index("inspection")["measured_on"]
    sent = frames["dispatches"]
    assert (sent["inspection"].map(measured) < sent["sent_on"]).all()
    ordered = sent["order"].map(frames["orders"].set_index("order")["ordered_on"])
    assert (ordered < sent["sent_on"]).all()
    assert (fittings["sent_on"] < day)[day.notna() & fittings["sent_on"].notna()].all()
    follow = frames["follow_ups"].merge(fittings.assign(day=day)[["fitting", "day", "known_from"]], on="fitting")
    assert (follow["seen_on"] > follow["day"])[follow["day"].notna()].all()
    assert (follow["seen_on"] >= follow["known_from"])[follow["known_from"].notna()].all()
    assert (fittings["returned_on"] > day)[day.notna() & fittings["returned_on"].notna()].all()
    batch_made = frames["hubs"].set_index("hub")["batch"].map(frames["batches"].set_index("batch")["made_on"])
    assert (sent["hub"].map(batch_made) < sent["sent_on"])[sent["hub"].map(batch_made).notna()].all()


def test_listed_inspections_were_in_hand_when_the_hub_was_sent(fleet: Fleet) -> None:
    frames = fleet.frames
    fittings = _joined(fleet)
    listed = fittings.assign(each=fittings["inspections"].str.split(";")).explode("each")
    inspections = frames["inspections"].set_index("inspection")
    assert (listed["each"].map(inspections["shaft"]) == listed["shaft"]).all()
    known = listed["sent_on"].notna()
    assert (listed["each"].map(inspections["measured_on"]) < listed["sent_on"])[known].all()


def test_never_two_hubs_at_once_on_a_shaft(fleet: Fleet) -> None:
    fittings = _joined(fleet)
    fittings = fittings.assign(
        # a month without its day may mean its last one
        begin=(fittings["fitted_on"] + "-31").str[:10].fillna(fittings["sent_on"]).fillna(fittings["known_from"]),
        end=fittings["seen_on"].fillna(fittings["returned_on"]).fillna("9999"),
    ).sort_values(["shaft", "begin"])
    earlier_end = fittings.groupby("shaft")["end"].shift()
    assert (earlier_end.dropna() <= fittings.loc[earlier_end.notna(), "begin"]).all()


def test_nothing_follows_the_end_of_a_run(fleet: Fleet) -> None:
    follow = fleet.frames["follow_ups"]
    ended = follow[follow["state"].isin(["loose", "broken", "removed"])]
    assert not ended["fitting"].duplicated().any()
    last = follow.groupby("fitting")["seen_on"].max()
    assert (last[ended["fitting"]].to_numpy() == ended["seen_on"].to_numpy()).all()


def test_hubs_that_went_back_unused_have_no_follow_up(fleet: Fleet) -> None:
    fittings = fleet.frames["fittings"]
    would_not = fittings[fittings["went_on"] == "would-not"]
    assert not would_not["fitting"].isin(fleet.frames["follow_ups"]["fitting"]).any()
    assert would_not["refit_of"].isin(fleet.frames["fittings"]["fitting"]).sum() == would_not["refit_of"].notna().sum()
    assert (would_not["seated"] == "no").all()


def test_stock_never_runs_below_nothing_and_plugs_enclose_their_hubs(fleet: Fleet) -> None:
    frames = fleet.frames
    assert (frames["stock_counts"]["on_hand"] >= 0).all()
    hubs = frames["hubs"].merge(fleet.truth.hubs[["hub", "space_um"]], on="hub")
    hubs = hubs.merge(frames["batches"][["batch", "go_mm", "no_go_mm"]], on="batch").merge(
        frames["patterns"], on="pattern"
    )
    space = hubs["width_mm"] + hubs["space_um"] / 1000.0
    assert (hubs["go_mm"].astype(float) <= space + 1e-9).all()
    assert (space <= hubs["no_go_mm"].astype(float) + 1e-9).all()
    used = frames["hubs"]["batch"].value_counts()
    quantity = frames["batches"].set_index("batch")["quantity"]
    assert (used <= quantity[used.index]).all()


def test_widths_are_typed_at_their_gauges_resolution_and_near_the_truth(fleet: Fleet) -> None:
    frames = fleet.frames
    readings = frames["readings"].merge(
        frames["inspections"][["inspection", "gauge", "unit", "shaft"]], on="inspection"
    )
    readings = readings.merge(frames["gauges"][["gauge", "resolution", "unit"]], on="gauge", suffixes=("", "_gauge"))
    assert (readings["unit"] == readings["unit_gauge"]).all()
    decimals = readings["width"].str.partition(".")[2].str.len()
    assert (decimals == readings["resolution"].str.partition(".")[2].str.len()).all()
    readings = readings.merge(frames["shafts"][["shaft", "pattern"]], on="shaft")
    readings = readings.merge(frames["patterns"][["pattern", "width_mm", "splines"]], on="pattern")
    um = readings["width"].astype(float) * readings["unit"].map(
        {unit: float(each) for unit, each in UM_PER_UNIT.items()}
    )
    above = um - readings["width_mm"] * 1000.0
    assert above.between(-450, 50).mean() > 0.999
    assert (readings["spline"] <= readings["splines"]).all()


def test_chains_of_refits_name_an_ended_fitting_of_the_same_shaft(fleet: Fleet) -> None:
    fittings = _joined(fleet)
    refits = fittings[fittings["refit_of"].notna()]
    earlier = fittings.set_index("fitting").loc[refits["refit_of"]]
    assert len(refits) > 5
    assert (earlier["shaft"].to_numpy() == refits["shaft"].to_numpy()).all()
    assert earlier["seen_on"].notna().all()
    listed = refits["inspections"].str.split(";").str[0]
    measured = listed.map(fleet.frames["inspections"].set_index("inspection")["measured_on"])
    assert (measured.to_numpy() > earlier["seen_on"].to_numpy()).all()
