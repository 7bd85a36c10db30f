"""The chance of working loose against the gap, from the demo's store, beside the truth that was put in."""

import json

import numpy as np
import pandas as pd
import pytest

from tests.estimate_ends import three
from wearstats.report.loosening.sentences import loosening_sentences
from wearstats.report.remarks.document import plain
from wearstats.resources import resource
from wearstats.studies.gaps.known_gaps import MEASURES, known_gaps
from wearstats.studies.gaps.measured_again import other_readings
from wearstats.studies.gaps.records import choices_on_record
from wearstats.studies.inputs.widths import read_widths, readings_in_hand
from wearstats.studies.loosening.remarks import LooseningVerdict
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.snapshot import Snapshot

TRUTH = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def study(demo_loosening: LooseningStudy) -> LooseningStudy:
    return demo_loosening


def test_intervals_hold_the_truth(study: LooseningStudy) -> None:
    truth = TRUTH["loosening"]
    assert study.gap is not None
    for name, estimate in (("log_hazard_per_10um", study.gap.corrected), ("shape", study.gap.shape)):
        low, _, high = three(estimate)
        assert low < truth[name] < high
    assert study.gap.same_gap is not None
    low, _, high = three(study.gap.same_gap.difference)
    assert low < TRUTH["methods"]["risk_difference_12_months"]["same_gap"] < high


def test_document_bears_the_contract(study: LooseningStudy) -> None:
    answer = plain(study)
    json.dumps(answer, allow_nan=False)
    by_gap = [row for row in answer["risk"] if row["gap_left_um"] is not None]
    assert {row["months"] for row in by_gap} == {6.0, 12.0, 24.0}
    for row in by_gap:
        assert (row["value"] is None) == (row["status"] == "beyond-data")
    told = [row["value"] for row in by_gap if row["months"] == 12.0 and row["status"] == "ok"]
    assert told == sorted(told)
    assert answer["log_hazard_per_10um"]["corrected"]["status"] == "ok"
    assert answer["gap"]["trust"]["choice"]["ignorable"] is True
    assert all(part["gap"]["trust"] is None for part in answer["by_pattern"].values())


def test_words_say_slope_limit_and_that_it_approves_nothing(study: LooseningStudy) -> None:
    text = " ".join(loosening_sentences(study))
    assert "more of gap left goes with" in text
    assert "no approval of any fit" in text
    assert "whether a thou of play is too much" in text


def test_hubs_on_record_are_counted_where_they_sit(study: LooseningStudy) -> None:
    assert study.gap is not None
    near, rug = study.gap.hubs_near(), study.gap.rug
    assert int(near[["supplied", "filed"]].to_numpy().sum()) == study.gap.fittings
    bands = pd.cut(rug["gap_left_um"], [-np.inf, 5, 15, 25, 35, np.inf], right=False, labels=False)
    for column, supplied in (("supplied", True), ("filed", False)):
        mine = bands[rug["supplied"] == supplied]
        assert near[column].tolist() == [int((mine == band).sum()) for band in range(5)]
    # hubs as supplied sit on wider gaps
    assert rug.loc[rug["supplied"], "gap_left_um"].mean() > rug.loc[~rug["supplied"], "gap_left_um"].mean()


def test_the_verdict_is_the_gap_at_the_limit(study: LooseningStudy) -> None:
    assert study.gap is not None
    assert study.verdict.code == LooseningVerdict.UP_TO
    assert study.verdict.facts["gap_um"] == study.gap.at_limit.value
    document = plain(study)
    assert document["verdict_code"] == "loosening-verdict-up-to-gap"
    assert document["verdict"].startswith("under 5 in 100 a year: gaps up to ")


def test_gaps_are_known_better_with_what_was_noted(demo: Snapshot) -> None:
    known = known_gaps(demo)
    assert [note.name for note in known.indicators] == [
        "play measured", "minutes filed", "splines marked", "slid on as supplied",
    ]  # fmt: skip
    for measure in MEASURES:
        assert known.nodes[measure].value_um.shape == (len(known.frame), 32)
    spread = known.nodes["gap_left_um"].value_um.std(axis=1)
    assert spread.mean() < 0.95 * known.frame["gap_left_sd_um"].mean()


def test_other_readings_are_of_the_same_shaft_and_not_in_hand(demo: Snapshot) -> None:
    readings = read_widths(demo)
    others = other_readings(readings, readings_in_hand(readings, choices_on_record(demo)))
    assert others["fitting"].is_unique
    assert 30 < len(others) < 200
    assert others["other_um"].between(-40, 200).all()


def test_one_pattern_is_answered_from_its_own_fittings(demo: Snapshot) -> None:
    one = study_loosening(demo.of("D10"))
    assert one.gap is not None
    assert one.gap.fittings + one.gap.without_gap == one.everything.fittings
    assert set(read_widths(demo).of_pattern("D10").inspections["pattern"]) == {"D10"}
