"""The methods on the demo, whose truth is known, and on stores that lack something."""

import datetime
import json
from pathlib import Path
from typing import Any

import pytest

from tests.studies.support.fitting_store import make_store, plain_frames
from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.document import plain
from wearstats.resources import resource
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.loosening.study import study_loosening
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.covariates import read_decisions
from wearstats.studies.methods.remarks import MethodsStudyRemark, MethodsVerdict
from wearstats.studies.methods.study import study_methods
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def study(demo_methods: MethodsStudy) -> MethodsStudy:
    return demo_methods


@pytest.fixture(scope="module")
def truth() -> dict[str, float]:
    found = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    differences: dict[str, float] = found["methods"]["risk_difference_12_months"]
    return differences


def _holds(told: Estimate, truth: float) -> bool:
    return told.low is not None and told.high is not None and told.low <= truth <= told.high


def test_differences_hold_the_truth(study: MethodsStudy, truth: dict[str, float]) -> None:
    assert _holds(study.differences["sent"], truth["crude"])
    assert _holds(study.same_shafts, truth["same_shafts"])
    assert _holds(study.at_same_gap, truth["same_gap"])
    # the adjustment goes the right way: as supplied they went to less worn shafts
    assert (study.same_shafts.value or 0) > (study.differences["sent"].value or 1)
    assert abs((study.same_shafts.value or 0) - truth["same_shafts"]) < 0.05


def test_weights_and_overlap_are_told(study: MethodsStudy) -> None:
    like = study.like_shafts
    assert like is not None
    left_out = study.without_readings + study.known_late
    assert like.fittings + left_out == sum(group.fittings for group in study.of_methods("sent").values())
    assert like.fittings > 440
    balance = like.balance.set_index("covariate")
    assert {"mean_um", "hollow_um", "tightest_um", "later_hub", "duty standby"} <= set(balance.index)
    assert balance["before"].abs().max() > 0.3
    assert balance["after"].abs().max() < 0.1
    assert len(study.chances_frame()) == like.fittings
    document = plain(study)["same_shafts"]
    assert document["weights"]["as_supplied"]["smallest"] >= 1
    assert document["weights"]["as_supplied"]["effective_number"] < document["weights"]["as_supplied"]["fittings"]


def test_evidence_by_quarter(study: MethodsStudy) -> None:
    frame = study.evidence_frame()
    assert frame["quarter"].is_monotonic_increasing
    assert frame["quarter"].iloc[-1] == "2026Q3"
    assert frame[["supplied", "hand"]].diff().min().min() >= 0
    assert (frame["low"].diff().dropna() >= 0).all()
    assert (frame["high"].diff().dropna() <= 0).all()
    evidence = plain(study)["evidence"]
    assert (evidence["low"], evidence["high"]) == (frame["low"].iloc[-1], frame["high"].iloc[-1])
    assert evidence["settled"] is False
    assert evidence["since"] is None
    assert evidence["by_quarter"][-1]["known_on"] == "2026-09-30"
    more = plain(study)["more_fittings_needed"]
    assert more["low"] is not None
    assert more["value"] is None or more["value"] >= more["low"]


def test_what_was_told_last_year_is_told_the_same_now(demo: Snapshot, study: MethodsStudy) -> None:
    day = datetime.date(2025, 9, 30)
    earlier = study_methods(demo.at(day, models_from=day))
    then, now = earlier.evidence_frame(), study.evidence_frame()
    # what was written down since may move a fitting's date by little, and so a fitting between quarters
    both = then.merge(now, on="quarter", suffixes=("", "_now"))
    assert len(both) == len(then)
    for name in ("supplied", "hand", "supplied_failed", "hand_failed"):
        assert (both[name] - both[f"{name}_now"]).abs().max() <= 2, name


def test_document_is_plain_json_and_the_same_each_time(demo_store: Store, study: MethodsStudy) -> None:
    document = plain(study)
    assert json.dumps(document, allow_nan=False)
    assert set(document["by_pattern"]) == {"D8", "D10"}
    again = [study_methods(Snapshot(store=demo_store, known_on=demo_as_of(), pattern="D10", seed=7)) for _ in range(2)]
    assert plain(again[0]) == plain(again[1])


def test_all_comparisons_stand_beside_each_other(study: MethodsStudy) -> None:
    frame = study.differences_frame().set_index("question")
    assert list(frame.index) == ["crude", "as_done", "table", "same_season", "same_shafts", "same_gap"]
    assert (frame["low"] < frame["difference"]).all()
    assert (frame["why"] == "").all()
    inner = study.by_pattern["D8"].differences_frame().set_index("question")
    assert inner.loc["same_gap", "status"] == "ok"
    assert inner.loc["same_gap", "why"] == ""


def test_comparison_at_the_same_gap_is_that_of_the_law(demo: Snapshot) -> None:
    document = plain(study_methods(demo.of("D8")))
    gap = study_loosening(demo.of("D8")).gap
    assert gap is not None
    assert gap.same_gap is not None
    assert document["risk_difference"]["same_gap"] == plain(gap.same_gap.difference)
    assert document["through_gap"] == plain(gap.same_gap.through_gap)
    assert "by_pattern" not in document


def test_only_readings_in_hand_at_the_choice_are_used(demo: Snapshot) -> None:
    read = read_decisions(demo)
    assert read is not None
    day = datetime.date(2025, 6, 30)
    # which readings are slips is told by the fleet's scatter, the same for both
    early = read_decisions(demo.at(day, models_from=demo.known_on))
    assert early is not None
    both = read.join(early.add_suffix("_then"), how="inner")
    assert len(both) > 200
    assert both["mean_um"].to_numpy() == pytest.approx(both["mean_um_then"].to_numpy())


def test_without_readings_the_rest_is_still_told(tmp_path: Path) -> None:
    path = make_store(tmp_path / "bare.duckdb", plain_frames())
    with open_store(path) as bare:
        study = study_methods(Snapshot(store=bare, known_on=datetime.date(2026, 1, 1)))
    answer: dict[str, Any] = plain(study)
    assert answer["risk_difference"]["same_shafts"]["status"] == answer["e_value"]["status"] == "none"
    assert answer["same_shafts"] is None
    same_gap = study.differences_frame().set_index("question").loc["same_gap"]
    assert same_gap["status"] == answer["through_gap"]["status"] == "none"
    assert same_gap["why"].code == MethodsStudyRemark.NO_GAP_LAW
    assert answer["risk_difference"]["crude"]["status"] == "ok"
    assert answer["evidence"]["low"] < answer["evidence"]["high"]
    # all forty were fitted on one day, and reached their twelve months on another
    first = answer["evidence"]["by_quarter"][0]
    assert (first["quarter"], first["supplied"]) == ("2025Q1", 20)


def test_the_verdict_of_the_demo(demo_methods: MethodsStudy) -> None:
    assert demo_methods.verdict.code == MethodsVerdict.MORE
    assert plain(demo_methods)["verdict_code"] == MethodsVerdict.MORE
