"""Which hub for every shaft: each gets what it gets alone, in the order of what comes first."""

from __future__ import annotations

import dataclasses

import pytest

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import refused
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.rendering.short_answer import WIDTH
from wearstats.report.shaft.all_shafts import all_shafts_answer, all_shafts_frame, all_shafts_table
from wearstats.studies.all_shafts import AllShafts, study_all_shafts
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

SOME = ("S0112", "S0297", "S0300", "S0003", "S0005", "S0008")


@pytest.fixture(scope="module")
def fleet(demo: Snapshot) -> AllShafts:
    return study_all_shafts(demo, (*SOME, "no such shaft"))


def test_each_gets_what_it_gets_alone(demo: Snapshot, fleet: AllShafts) -> None:
    assert {study.shaft for study in fleet.studies} == set(SOME)
    for study in fleet.studies:
        alone = study_shaft(demo, study.shaft, by_number=False)
        assert plain(alone) == plain(study)
    assert list(fleet.unanswered) == ["no such shaft"]


def test_what_cannot_wait_stands_first(fleet: AllShafts) -> None:
    assert fleet.studies[0].advice.first == First.DO_NOT_RUN
    assert sum(fleet.counts().values()) == len(SOME)
    firsts = [study.advice.first for study in fleet.studies]
    assert firsts == sorted(firsts, key=list(fleet.counts()).index)


def test_answer_counts_them_and_names_the_first(fleet: AllShafts) -> None:
    lines = all_shafts_answer(fleet).lines()
    assert len(lines) <= 18
    assert all(len(line) <= WIDTH for line in lines)
    assert "no such shaft" in " ".join(lines)
    assert len(all_shafts_table(fleet).rows) == len(all_shafts_frame(fleet)) == len(SOME)
    frame = all_shafts_frame(fleet)
    assert frame["do"].iloc[0] == "do not run it, and send no hub"
    sent = frame[frame["low"].notna()]
    assert (sent["low"] <= sent["loose_in_100"]).all()


def test_none_answered_says_so(fleet: AllShafts) -> None:
    nothing = dataclasses.replace(fleet, studies=(), unanswered={"X": refused("no reading of it")})
    assert "No answer for any" in all_shafts_answer(nothing).lines()[0]


def test_nothing_measured_cannot_be_answered(demo: Snapshot) -> None:
    with pytest.raises(AnalysisError, match="no shaft was measured"):
        study_all_shafts(demo.of("no such pattern"))
