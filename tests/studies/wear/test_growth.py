"""How fast shafts wear as they run: the invented history gives back its truth, and what cannot be told is refused."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.running_store import AS_OF, Look, make_running_shop, twice_looked_at
from tests.studies.support.shop_store import AS_OF as SHOP_AS_OF
from tests.studies.support.shop_store import make_shop, splines
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.growth.remarks import GrowthRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.resources import resource
from wearstats.simulate import DEMO, Scenario, simulate
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.growth import GrowthStudy, study_growth
from wearstats.studies.wear.next_size import NEEDED_COLUMNS
from wearstats.studies.wear.remarks import WearStudyRemark


def ask(path: Path, **options: Any) -> GrowthStudy:
    with open_store(path) as store:
        return study_growth(Snapshot(store=store, known_on=options.pop("as_of", AS_OF)), **options)


def column(frame: pd.DataFrame, shaft: str, name: str) -> list[Any]:
    return frame.loc[frame["shaft"] == shaft, name].tolist()


def only(frame: pd.DataFrame, shaft: str, name: str) -> Any:
    (value,) = column(frame, shaft, name)
    return value


def covers(estimate: Estimate, truth: float) -> bool:
    assert estimate.low is not None
    assert estimate.high is not None
    return estimate.low <= truth <= estimate.high


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> GrowthStudy:
    return study_growth(demo)


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    return found


def test_growth_of_the_demo_comes_back(study: GrowthStudy, truth: dict[str, Any]) -> None:
    by_duty = truth["growth_um_per_1000h"]
    assert study.growth_of == "tight"
    assert study.growth.status == "ok"
    assert covers(study.growth, float(np.mean(list(by_duty.values()))))
    # whatever the hub did: loose hubs wear faster, so the truth of tight ones is a lower bound
    assert study.by_duty["continuous"].high is not None
    assert study.by_duty["continuous"].high > by_duty["continuous"]
    loose = study.by_between["loose"]
    assert loose.low is not None
    assert loose.low > by_duty["standby"]
    assert study.loose_minus_tight.low is not None
    assert study.loose_minus_tight.low > 0


def test_growth_while_loose_comes_back(study: GrowthStudy, truth: dict[str, Any]) -> None:
    rate = study.while_loose
    assert rate.status == "assumed"
    assert rate.code == WearStudyRemark.MIDWAY
    mean = float(np.mean(list(truth["growth_um_per_1000h"].values())))
    assert covers(rate, truth["loose_growth_factor"] * mean)


def test_old_against_young_shafts_is_marked_as_assumed(study: GrowthStudy) -> None:
    assert study.by_age.status == "assumed"
    assert study.by_age.code == GrowthRemark.ACROSS


def test_frames_bear_their_columns(study: GrowthStudy) -> None:
    points, band, needed = study.points, study.band, study.needed
    assert {"shaft", "duty", "hours_h", "wear_um", "sd_um", "between", "since_h", "lost_um", "lost_sd_um"} <= set(
        points
    )
    assert list(band.columns) == ["between", "since_h", "lost_um", "low_um", "high_um"]
    assert list(needed.columns) == list(NEEDED_COLUMNS)
    assert needed["shaft"].is_unique
    # two of the demo's shafts were scrapped, and need none
    assert len(needed) == study.shafts - 2
    first = points[points["state"] == 0]
    assert (first[["since_h", "lost_um", "lost_sd_um"]] == 0).all(axis=None)
    assert (points["since_h"] >= 0).all()
    assert (band["low_um"] <= band["high_um"]).all()


def test_what_is_predicted_stays_within_the_hours_on_record(study: GrowthStudy) -> None:
    needed = study.needed
    record = needed["duty"].map(study.hours_on_record)
    told = needed[needed["needed_h"].notna()]
    assert len(told) > 50
    assert (told["hours_h"] + told["needed_h"] <= record[told.index]).all()
    bounded = told[told["status"] == "bounded"]
    assert bounded["needed_high_h"].isna().all()
    assert (told["needed_low_h"] <= told["needed_h"]).all()
    refused = needed[needed["status"] == "none"]
    assert refused[["needed_h", "needed_low_h", "needed_high_h"]].isna().all(axis=None)
    assert (refused["words"].map(say).str.len() > 20).all()
    assert (needed["further_um"].dropna() > 0).all()


def test_document_is_plain(study: GrowthStudy) -> None:
    text = json.dumps(plain(study), allow_nan=False)
    document = json.loads(text)
    assert {"growth_um_per_1000h", "by_duty", "by_between", "next_undersize", "by_pattern"} <= set(document)
    assert set(document["by_pattern"]) == {"D8", "D10"}
    assert sum(part["shafts"] for part in document["by_pattern"].values()) == study.shafts


def test_one_pattern_is_the_same_as_its_part(demo: Snapshot, study: GrowthStudy) -> None:
    alone = study_growth(demo.of("D8"))
    assert alone.by_pattern == {}
    assert plain(alone) == plain(study.by_pattern["D8"])


def test_same_seed_same_answer(demo_store: Store, study: GrowthStudy) -> None:
    again = study_growth(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert plain(again) == plain(study)


def test_tight_and_loose_hubs_are_told_apart(tmp_path: Path) -> None:
    study = ask(make_running_shop(tmp_path / "s.duckdb", twice_looked_at(40), folder=tmp_path))
    assert (study.shafts, study.shafts_again) == (40, 40)
    assert covers(study.by_between["tight"], 4.0)
    assert covers(study.by_between["loose"], 12.0)
    assert study.growth.value == study.by_between["tight"].value
    assert study.by_between["not known"].status == "none"
    # each was tight for the whole run and reported within days: all hours above the tight rate fall into half a month
    assert study.while_loose.value is not None
    assert study.while_loose.value > 10 * 12.0


def test_the_next_undersize_is_due_when_the_shaft_has_worn_to_its_spaces(tmp_path: Path) -> None:
    shafts = twice_looked_at(40) | {
        # new spaces 10 um above new: 25 under has them 15 below, 50 under 40 below, 75 under 65
        "bare": [Look("2024-01-01", 3000, 20.0)],
        "fitted": [Look("2024-01-01", 3000, 10.0, then="silent")],
        "spent": [Look("2024-01-01", 3000, 90.0)],
        "old": [Look("2024-01-01", 400_000, 20.0)],
    }
    needed = ask(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path)).needed
    assert only(needed, "bare", "next_undersize_um") == 50
    assert only(needed, "bare", "further_um") == pytest.approx(20.0, abs=3)
    assert only(needed, "bare", "needed_h") == pytest.approx(20.0 / 4.0 * 1000, rel=0.25)
    assert only(needed, "bare", "needed_low_h") < 5000
    # 25 under is on it already, so 50 under is the next
    assert only(needed, "fitted", "next_undersize_um") == 50
    assert only(needed, "spent", "status") == "none"
    assert only(needed, "spent", "words").code == WearStudyRemark.NO_LARGER_SIZE
    assert only(needed, "old", "status") == "none"
    assert only(needed, "old", "words").code == GrowthRemark.DUE_BEYOND_RECORD


def test_of_very_many_shafts_all_are_predicted_though_not_all_are_compared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wearstats.studies.wear.growth.MOST_SINGLE_SHAFTS", 5)
    rng = np.random.default_rng(8)
    shafts = twice_looked_at(10) | {
        f"T{k}": [Look("2024-01-01", 3000.0 + k, float(rng.gamma(3, 8)))] for k in range(20)
    }
    study = ask(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    assert study.points["shaft"].nunique() == 15
    assert (study.shafts, len(study.needed)) == (30, 30)


def test_too_few_looks_fall_back_on_the_comparison_of_shafts(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    hours = rng.integers(1000, 12000, 30).astype(float)
    shafts = {
        f"S{k}": [Look("2024-01-01", float(h), 3.0 * h / 1000 + rng.normal(0, 4))] for k, h in enumerate(hours.tolist())
    }
    study = ask(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    assert (study.growth_of, study.shafts_again) == ("ages", 0)
    assert study.growth.status == "assumed"
    assert covers(study.growth, 3.0)
    assert study.by_duty["daily"].status == "assumed"
    assert study.by_between["tight"].value is None
    assert study.band.empty
    assert set(study.needed["status"]) == {"none"}
    json.dumps(plain(study), allow_nan=False)


def test_no_hours_at_all_is_refused_with_what_is_needed(tmp_path: Path) -> None:
    path = make_shop(
        tmp_path / "s.duckdb", {name: splines(4.39, 4.39, 4.39) for name in ("A", "B", "C")}, folder=tmp_path
    )
    with pytest.raises(AnalysisError, match=r"no shaft has running hours.*column hours"):
        ask(path, as_of=SHOP_AS_OF)


def test_hours_that_contradict_each_other_everywhere_are_refused(tmp_path: Path) -> None:
    shafts = {
        name: [Look("2023-01-01", 1000, um), Look("2023-01-05", 2000, um)]
        for name, um in (("A", 10.0), ("B", 30.0), ("C", 22.0), ("D", 44.0))
    }
    path = make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path)
    with pytest.raises(AnalysisError, match=r"contradict each other on every shaft.*may only rise"):
        ask(path)


def series_of(path: Path) -> tuple[pd.DataFrame, dict[Remark, int]]:
    study = ask(path)
    return study.points, study.left_out


def test_what_is_done_to_a_shaft_begins_it_anew(tmp_path: Path) -> None:
    shafts = twice_looked_at(8) | {
        "dressed": [Look("2023-01-01", 1000, 10.0, then="tight"), Look("2025-01-01", 3000, 60.0, event="dressed")],
    }
    points, _ = series_of(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    assert column(points, "dressed", "series") == ["dressed/0", "dressed/1"]
    assert column(points, "dressed", "lost_um") == [0.0, 0.0]


def test_hours_that_contradict_themselves_are_left_out_and_counted(tmp_path: Path) -> None:
    shafts = twice_looked_at(8) | {
        "back": [Look("2023-01-01", 5000, 10.0, then="tight"), Look("2025-01-01", 3000, 20.0)],
        "apart": [Look("2023-01-01", 1000, 10.0), Look("2023-01-05", 2000, 10.0)],
        "bare": [Look("2023-01-01", None, 10.0)],
    }
    points, left_out = series_of(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    assert not points["shaft"].isin(["back", "apart", "bare"]).any()
    assert left_out == {
        remark(WearStudyRemark.HOURS_BACKWARDS): 2,
        remark(WearStudyRemark.HOURS_DIFFER): 1,
        remark(WearStudyRemark.NO_HOURS): 1,
    }


def test_hours_heard_when_the_hub_came_off_stand_in_for_those_not_written_down(tmp_path: Path) -> None:
    shafts = twice_looked_at(8) | {
        "heard": [Look("2023-01-01", 1000, 10.0, then="loose", heard_h=3500), Look("2025-01-01", None, 40.0)],
        "running": [Look("2023-01-01", 1000, 10.0, then="silent", heard_h=3500), Look("2025-01-01", None, 40.0)],
    }
    points, _ = series_of(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    assert column(points, "heard", "hours_h") == [1000, 3500]
    assert column(points, "heard", "between") == ["", "loose"]
    assert column(points, "heard", "lost_um")[1] == pytest.approx(30.0, abs=4)
    assert only(points, "running", "hours_h") == 1000


def test_a_silent_hub_is_neither_tight_nor_loose(tmp_path: Path) -> None:
    shafts = twice_looked_at(8) | {
        f"silent{k}": [Look("2023-01-01", 1000, 10.0, then="silent"), Look("2025-01-01", 4000 + k, 22.0)]
        for k in range(4)
    }
    study = ask(make_running_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path))
    points = study.points
    assert column(points, "silent1", "between") == ["", "not known"]
    assert covers(study.by_between["not known"], 4.0)


@pytest.mark.slow
def test_growth_of_invented_fleets_comes_back(tmp_path: Path) -> None:
    # one rate for all duties, so that the pooled rate has a truth; 20 fleets, hubs found loose wear eight times as fast
    duties = tuple(dataclasses.replace(duty, growth_factor=1.0) for duty in DEMO.duties)
    scenario = dataclasses.replace(DEMO, duties=duties)
    held, values = [], []
    for seed in range(20):
        study = ask(fleet_store(scenario, seed, tmp_path / str(seed)), as_of=scenario.end)
        held.append(covers(study.growth, scenario.growth_um_per_1000h))
        values.append(study.growth.value)
        assert study.growth_of == "tight"
    assert np.mean(held) >= 0.85  # 17 of 20: fewer has a chance of 2 % where intervals are right
    assert np.mean(np.array(values, dtype=float)) == pytest.approx(scenario.growth_um_per_1000h, abs=0.15)


def fleet_store(scenario: Scenario, seed: int, folder: Path) -> Path:
    fleet = simulate(scenario, rng=np.random.default_rng([61, seed]))
    folder.mkdir()
    paths = []
    for name, frame in fleet.frames.items():
        paths.append(folder / f"{name}.csv")
        frame.to_csv(paths[-1], index=False)
    create_store(folder / "fleet.duckdb")
    with open_store(folder / "fleet.duckdb", write=True) as store:
        add_files(store, paths, added_on=scenario.end)
    return folder / "fleet.duckdb"
