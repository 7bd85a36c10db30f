"""How worn the shafts are: the invented history gives back its truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.simulation.few_shafts import fleet as few_fleet
from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.analysis.widths.fit import fit_widths
from wearstats.report.remarks.document import plain
from wearstats.report.wear.sentences import wear_sentences
from wearstats.resources import resource
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.inputs.widths import read_widths, readings_in_hand
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.remarks import WearVerdict
from wearstats.studies.wear.study import contract_components, study_wear


@pytest.fixture(scope="module")
def study(demo_wear: WearStudy) -> WearStudy:
    return demo_wear


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    return found


def test_components_come_back(study: WearStudy, truth: dict[str, Any]) -> None:
    pairs = {
        "spline": "spline",
        "shaft_station": "shaft_station",
        "cell": "cell",
        "measurer": "measurer",
        "inspection": "inspection",
        "repeatability_home": "repeatability_home",
        "repeatability_workshop": "repeatability_workshop",
    }
    for ours, theirs in pairs.items():
        estimate = study.components_um[ours]
        assert estimate.low is not None
        assert estimate.high is not None
        assert estimate.low <= truth["components_um"][theirs] <= estimate.high, ours


def test_wear_comes_back(study: WearStudy, truth: dict[str, Any]) -> None:
    for estimate, value in [
        (study.wear_mean_um, truth["wear_um"]["mean"]),
        *[(study.quantiles_um[key], truth["wear_um"]["quantiles"][key]) for key in ("0.1", "0.5", "0.9")],
    ]:
        assert estimate.low is not None
        assert estimate.high is not None
        assert estimate.low <= value <= estimate.high


def test_document_has_the_contract(study: WearStudy) -> None:
    document = plain(study)
    assert {"shafts", "readings", "components_um", "wear_um", "growth_um_per_1000h", "by_pattern"} <= set(document)
    assert {"mean", "unworn_share", "quantiles"} <= set(document["wear_um"])
    for pattern in document["by_pattern"].values():
        assert set(pattern["station_um"]) == {"shoulder", "middle", "nut-end"}
    text = json.dumps(document, allow_nan=False)
    assert "NaN" not in text


def test_same_seed_same_answer(demo_store: Store, study: WearStudy) -> None:
    again = study_wear(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert plain(again) == plain(study)


def test_gaps_use_no_reading_after_the_choice(demo: Snapshot) -> None:
    readings = read_widths(demo)
    fittings = demo.query("fittings/choices", shafts=None)
    without_names = fittings.assign(inspections=None)
    in_hand = readings_in_hand(readings, without_names).inspections
    chosen_on = without_names.set_index("fitting")["chosen_on"].reindex(in_hand["unit"]).to_numpy()
    assert (in_hand["measured_on"].to_numpy() <= chosen_on).all()
    # and none from before an earlier hub
    assert (in_hand.groupby("unit")["hubs_before"].nunique() == 1).all()


def test_gaps_are_never_negative_and_have_ordered_intervals(demo: Snapshot) -> None:
    gaps = known_gaps(demo).frame
    assert (gaps["gap_left_low_um"] >= 0).all()
    assert (gaps["gap_left_low_um"] <= gaps["gap_left_um"]).all()
    assert (gaps["gap_left_um"] <= gaps["gap_left_high_um"]).all()
    assert gaps["fitting"].is_unique


def test_one_shaft_leaves_nearly_all_open(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.39, 4.39)}, folder=tmp_path)
    with open_store(path) as store:
        study = study_wear(Snapshot(store=store, known_on=AS_OF))
    assert study.wear_mean_um.low is not None
    assert study.wear_mean_um.high is not None
    assert study.wear_mean_um.high - study.wear_mean_um.low > 60.0
    assert study.verdict.code == WearVerdict.FEW_SHAFTS


def test_with_few_shafts_it_is_said_which_spreads_are_assumed(tmp_path: Path) -> None:
    # splines alike on every shaft: what differs between them is told by assumption alone
    shafts = {name: splines(4.39 - lost, 4.38 - lost, 4.39 - lost) for name, lost in (("A", 0.0), ("B", 0.03))}
    path = make_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path)
    with open_store(path) as store:
        study = study_wear(Snapshot(store=store, known_on=AS_OF))
    assert study.components_um["shaft"].status == "assumed"
    assert study.assumed is not None
    assert study.assumed.facts["shafts"] == 2
    assert study.assumed.facts["measurer_home"] == 7.0
    # nobody measured in the workshop, so nothing hangs on its spreads
    assert "measurer_workshop" not in study.assumed.facts
    [line] = [line for line in wear_sentences(study) if line.startswith("With only 2 shafts on record")]
    assert "the hand with its gauge at home 7 µm" in line


def test_an_estimate_of_which_more_is_assumed_than_read_is_a_bound() -> None:
    few = fit_widths(few_fleet("usual", 3, 1)[0], intervals=False)
    assert few.weighed is not None
    statuses = [
        contract_components(few)[name.replace("_home", "")].status for name in ("measurer_home", "inspection_home")
    ]
    assert set(statuses) == {"assumed"}
    vague = replace(few.weighed, prior_share=np.where(few.free, 0.6, few.weighed.prior_share))
    told = contract_components(replace(few, weighed=vague))
    assert told["cell"].status == "bounded"
    assert told["cell"].value == few.components_um["cell"].value


def test_many_shafts_assume_nothing_aloud(study: WearStudy) -> None:
    assert study.assumed is None
    assert not any("on record these spreads rest" in line for line in wear_sentences(study))


def test_the_verdict_of_the_demo(demo_wear: WearStudy) -> None:
    assert demo_wear.verdict.code == WearVerdict.WORN
    assert plain(demo_wear)["verdict_code"] == WearVerdict.WORN
