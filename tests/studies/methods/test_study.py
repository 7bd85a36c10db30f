"""The study of the methods, on a store counted by hand."""

from pathlib import Path

import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.study import study_methods
from wearstats.studies.snapshot import Snapshot

CONTRACT = {"by_method", "risk_difference", "e_value", "evidence", "more_fittings_needed"}


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> MethodsStudy:
    frames = plain_frames()
    fittings = frames["fittings"]
    # one hub sent as supplied was filed by its owner, and for one nobody wrote down what was advised
    fittings.loc[fittings["fitting"].eq("F2"), "method"] = "owner-fitted"
    frames["dispatches"].loc[frames["dispatches"]["hub"].eq("H5"), "sent_as"] = None
    path = make_store(tmp_path_factory.mktemp("methods") / "fittings.duckdb", frames)
    with open_store(path) as store:
        return study_methods(Snapshot(store=store, known_on=AS_OF))


def test_by_what_was_sent_and_done(study: MethodsStudy) -> None:
    frame = study.methods_frame()
    assert list(frame) == ["by", "method", "fittings", "failures", "hub_months", "risk", "low", "high"]
    assert frame[["by", "method", "fittings", "failures"]].to_numpy().tolist() == [
        ["sent", "as-supplied", 20, 6],
        ["sent", "owner-fitted", 10, 0],
        ["sent", "workshop-fitted", 10, 2],
        ["done", "as-supplied", 19, 6],
        ["done", "owner-fitted", 11, 0],
        ["done", "workshop-fitted", 10, 2],
    ]
    assert (study.changed, study.sent_taken_as_done) == (1, 1)
    # hub 41 was to be fitted by its owner, and would not go on
    assert study.would_not_go_on == {"owner-fitted": 1}


def test_crude_difference(study: MethodsStudy) -> None:
    difference = study.differences["sent"]
    assert difference.value == pytest.approx(6 / 20 - 2 / 20, abs=1e-4)
    # Newcombe's hybrid score interval of 6/20 - 2/20: -0.0530 to 0.4248, here on effective numbers
    assert difference.low == pytest.approx(-0.053, abs=0.03)
    assert difference.high == pytest.approx(0.425, abs=0.03)
    assert study.differences["done"].value == pytest.approx(6 / 19 - 2 / 21, abs=1e-4)


def test_exact_table(study: MethodsStudy) -> None:
    table = study.tables["sent"]
    assert table.table.to_rows() == [[6, 14], [2, 18]]
    assert sum(table.left_out.values()) == 0
    assert table.fisher is not None
    # at least 6 of the 8 failures in one given half: (C(20,6) C(20,2) + C(20,7) 20 + C(20,8)) / C(40,8)
    assert table.fisher.p_greater == pytest.approx((38760 * 190 + 77520 * 20 + 125970) / 76904685)
    assert study.table_frame().to_numpy().tolist() == [
        ["sent", "as-supplied", 6, 14],
        ["sent", "hand-fitted", 2, 18],
        ["done", "as-supplied", 6, 13],
        ["done", "hand-fitted", 2, 19],
    ]


def test_document_bears_the_contract(study: MethodsStudy) -> None:
    answer = plain(study)
    assert set(answer) >= CONTRACT
    assert set(answer["by_method"]["as-supplied"]) >= {"fittings", "failures", "hub_months", "risk"}
    assert set(answer["risk_difference"]) == {"crude", "same_shafts", "same_gap", "as_done", "same_hub"}
    assert answer["risk_difference"]["same_shafts"]["status"] == "none"
    assert set(answer["evidence"]) >= {"low", "high", "settled", "since"}
    assert set(answer["by_pattern"]) == {"D8", "D10"}
    assert answer["table"]["fisher"]["mid_p_two_sided"] < answer["table"]["fisher"]["p_two_sided"]


def test_no_fittings_cannot_answer(tmp_path: Path) -> None:
    path = make_store(tmp_path / "empty.duckdb", {})
    with open_store(path) as store, pytest.raises(AnalysisError, match="no fitting is on record"):
        study_methods(Snapshot(store=store, known_on=AS_OF))


def test_one_method_alone_has_no_difference(tmp_path: Path) -> None:
    frames = plain_frames()
    for frame, column in (("fittings", "method"), ("dispatches", "sent_as")):
        frames[frame][column] = "as-supplied"
    path = make_store(tmp_path / "one.duckdb", frames)
    told = "all hubs on record were sent as supplied: .* sent to be fitted by hand"
    with open_store(path) as store, pytest.raises(AnalysisError, match=told):
        study_methods(Snapshot(store=store, known_on=AS_OF))


def test_a_time_that_no_hub_was_followed_for_is_refused(tmp_path: Path) -> None:
    path = make_store(tmp_path / "plain.duckdb", plain_frames())
    with (
        open_store(path) as store,
        pytest.raises(AnalysisError, match="at 36 months: none was") as told,
    ):
        study_methods(Snapshot(store=store, known_on=AS_OF), horizon_months=36.0)
    assert "--horizon-months 13" in str(told.value)
