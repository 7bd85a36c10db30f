"""Which hub to send: what must be refused is refused, and what is sent is tight."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.analysis.advice.remarks import Finding, Reason, Refusal
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot


def advise(path: Path, shaft: str) -> ShaftStudy:
    with open_store(path) as store:
        return study_shaft(Snapshot(store=store, known_on=AS_OF), shaft)


def test_hollow_shaft_is_refused_for_its_hollow_not_passed_on_its_average(tmp_path: Path) -> None:
    # common practice, no source: full width at the ends and 4.35 in the middle, 4.41 when new
    path = make_shop(tmp_path / "s.duckdb", {"hollow": splines(4.41, 4.35, 4.41)}, folder=tmp_path, gauge="shop")
    study = advise(path, "hollow")
    # nothing is known of how such last: the gap that stays is over what is sent without knowing
    assert study.advice.do == "decline"
    assert study.advice.hub is None
    assert study.advice.because[0].code == Reason.NO_HUB_HOLDS
    # the same mean width without a hollow is served
    even = make_shop(tmp_path / "e.duckdb", {"even": splines(4.39, 4.39, 4.39)}, folder=tmp_path, gauge="shop")
    assert advise(even, "even").advice.do in {"send", "send-shaft-here"}


def test_shaft_wide_at_the_nut_end_is_refused_too(tmp_path: Path) -> None:
    # every place is passed on the way in: what the wide nut end takes off the hub is missing at the shoulder
    path = make_shop(tmp_path / "s.duckdb", {"taper": splines(4.33, 4.36, 4.41)}, folder=tmp_path, gauge="shop")
    assert advise(path, "taper").advice.do == "decline"
    other = make_shop(tmp_path / "t.duckdb", {"taper": splines(4.41, 4.36, 4.33)}, folder=tmp_path, gauge="shop")
    # one that narrows to the nut end is followed: what has to come off at the mouth is not missing behind
    assert advise(other, "taper").advice.do != "decline"


def test_calipers_alone_are_not_enough(tmp_path: Path) -> None:
    path = make_shop(
        tmp_path / "s.duckdb", {"A": splines(4.38, 4.38, 4.38, scatter=0.01)}, folder=tmp_path, gauge="cal"
    )
    study = advise(path, "A")
    assert study.advice.do == "measure-again"
    assert study.advice.because[0].code == Finding.CALIPERS


def test_splines_that_were_never_read_are_told(tmp_path: Path) -> None:
    read = splines(4.38, 4.38, 4.38, scatter=0.01)
    path = make_shop(tmp_path / "s.duckdb", {"whole": read, "part": read[:3]}, folder=tmp_path, gauge="shop")
    (told,) = [caution for caution in map(say, advise(path, "part").cautions) if "never read" in caution]
    assert told.startswith("7 of 10 splines were never read")
    assert not any("never read" in caution for caution in map(say, advise(path, "whole").cautions))


def test_worn_beyond_the_offer_asks_for_a_special_on_the_grid(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.28, 4.28, 4.28)}, folder=tmp_path, gauge="shop")
    advice = advise(path, "A").advice
    assert advice.do == "make-special"
    assert advice.hub is not None
    assert advice.hub.undersize_um % 25 == 0
    assert advice.hub.undersize_um > 120


def test_the_hub_sent_where_nothing_is_known_leaves_a_small_gap(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.385, 4.39)}, folder=tmp_path, gauge="shop")
    study = advise(path, "A")
    assert study.advice.do == "send"
    rows = study.choices_frame()
    choices = rows[rows["second_um"].isna()].drop_duplicates("undersize_um").set_index("undersize_um")
    assert study.advice.hub is not None
    assert study.advice.hub.undersize_um in choices.index
    assert study.advice.hub.gap_um <= 25.0
    # tighter hubs never leave a larger gap, and never less filing
    assert (np.diff(choices["gap_left_um"]) <= 1e-9).all()
    assert (np.diff(choices["clearance_um"]) < 0).all()
    assert study.width_um_below_new.value == pytest.approx(21.7, abs=4)


def test_as_supplied_is_only_advised_where_it_goes_on_without_filing(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.385, 4.39)}, folder=tmp_path, gauge="shop")
    study = advise(path, "A")
    chosen = study.choice_of(study.advice.hub)
    assert chosen is not None
    # the shaft is 20 to 25 um below new, and a standard hub has 20 um of room: the hub of 25 slides on with some left
    assert (chosen.candidate.method, chosen.candidate.undersize_um) == ("as-supplied", 25.0)
    assert chosen.filing_um.max() == 0.0
    # of what would have to be driven on by more than 8 um none may go as it is, and all may once they are filed
    tight = [each for each in study.choices if each.filing_um.max() > 8]
    assert {each.candidate.undersize_um for each in tight} == {50.0, 75.0}
    for each in tight:
        forced = each.candidate.method == "as-supplied"
        assert (Refusal.FORCED in each.candidate.refused) == forced
        assert bool(each.candidate.refused) == forced


def test_the_document_has_the_contract(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.385, 4.39)}, folder=tmp_path)
    document = plain(advise(path, "A"))
    assert len(document["map_um"]) == 10
    assert all(len(row) == 3 for row in document["map_um"])
    for choice in document["choices"]:
        assert {"undersize_um", "method", "clearance_um", "gap_left_um", "contact_share", "filing_um", "risk"} <= set(
            choice
        )
        assert choice["risk"][0]["status"] == "none"
    assert document["advice"]["do"] in {
        "send", "send-two", "measure-again", "send-shaft-here", "make-special", "decline",
    }  # fmt: skip
    assert document["cautions"]


def test_an_unknown_shaft_says_what_to_do(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.385, 4.39)}, folder=tmp_path)
    with pytest.raises(AnalysisError, match="no reading of shaft B"):
        advise(path, "B")


def test_inspections_that_contradict_each_other_are_measured_again_not_averaged(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.37, 4.37, 4.37)}, folder=tmp_path)
    text = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
    text += "I-A2,A,2026-01-03,bert,home,mic,mm\n\nreadings\ninspection,spline,shoulder,middle,nut-end\n"
    text += "".join(f"I-A2,{spline},{4.30 + 0.002 * (spline % 3):.3f},4.301,4.299\n" for spline in range(1, 11))
    with open_store(path, write=True) as store:
        assert add_files(store, [], text=text, added_on=AS_OF).kept_out == 0
    with open_store(path) as store:
        advice = study_shaft(Snapshot(store=store, known_on=AS_OF), "A").advice
    assert advice.do == "measure-again"
    assert advice.because[0].code == Finding.APART
    assert "I-A and I-A2 differ by" in say(advice.because[0])


def test_readings_that_are_all_the_same_choose_no_hub(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.38, 4.38, 4.38, scatter=0.0)}, folder=tmp_path)
    with open_store(path) as store:
        study = study_shaft(Snapshot(store=store, known_on=AS_OF), "A")
    assert study.advice.do == "measure-again"
    assert study.advice.because[0].code == Finding.ALL_EQUAL
    assert any("ask whether each spline was measured" in caution for caution in map(say, study.cautions))
