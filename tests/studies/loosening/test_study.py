"""The study of how long hubs stay tight, on a store counted by hand."""

import datetime
from pathlib import Path

import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.studies.inputs.histories import ticks_months
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.snapshot import Snapshot

CONTRACT = {
    "fittings", "followed", "failures", "log_hazard_per_10um", "shape", "reported_unasked", "risk",
    "gap_at_risk_limit_um",
}  # fmt: skip
ESTIMATE = {"value", "low", "high", "level", "method", "method_code", "status"}


@pytest.fixture(scope="module")
def store_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("loosening") / "fittings.duckdb", plain_frames())


@pytest.fixture(scope="module")
def study(store_path: Path) -> LooseningStudy:
    with open_store(store_path) as store:
        return study_loosening(Snapshot(store=store, known_on=AS_OF))


def test_counts(study: LooseningStudy) -> None:
    answer = plain(study)
    assert (answer["fittings"], answer["followed"], answer["failures"]) == (40, 40, 8)
    assert answer["outcomes"]["would-not"] == 1
    assert answer["outcomes"]["failed"] == 8
    assert answer["left_out"] == {"tight after it had failed or been taken off": 1}
    assert {name: part["failures"] for name, part in answer["by_method"].items()} == {
        "as-supplied": 6, "owner-fitted": 0, "workshop-fitted": 2,
    }  # fmt: skip


def test_risk_where_all_is_known_is_the_plain_share(study: LooseningStudy) -> None:
    assert study.risk.value == pytest.approx(8 / 40, abs=1e-4)
    supplied = study.by_method["as-supplied"].risk(12.0)
    assert supplied.value == pytest.approx(6 / 20, abs=1e-4)
    # Wilson on 6 of 20: 0.1455 to 0.5190; the effective number may be a little smaller
    assert (supplied.low, supplied.high) == pytest.approx((0.1455, 0.5190), abs=0.02)
    owner = study.by_method["owner-fitted"].risk(12.0)
    assert (owner.status, owner.value) == ("bounded", 0.0)


def test_document_bears_the_contract(study: LooseningStudy) -> None:
    answer = plain(study)
    assert set(answer) >= CONTRACT
    for estimate in (
        *answer["log_hazard_per_10um"].values(),
        answer["shape"],
        answer["reported_unasked"],
        answer["gap_at_risk_limit_um"],
    ):
        assert set(estimate) == ESTIMATE
    assert [entry["months"] for entry in answer["risk"]] == [6.0, 12.0, 24.0]
    assert all(set(entry) == ESTIMATE | {"gap_left_um", "months"} for entry in answer["risk"])
    assert answer["shape"]["status"] == "none"
    assert "no width reading" in answer["shape"]["method"]
    assert answer["risk"][2]["status"] == "beyond-data"
    assert set(answer["by_pattern"]) == {"D8", "D10"}
    assert sum(part["fittings"] for part in answer["by_pattern"].values()) == 40


def test_frames_for_the_chart(study: LooseningStudy) -> None:
    curves, at_risk = study.curves_frame(), study.at_risk_frame()
    assert list(curves) == ["group", "months", "still_tight", "low", "high"]
    assert list(at_risk) == ["group", "months", "at_risk"]
    assert set(curves["group"]) == set(at_risk["group"]) == {"as-supplied", "owner-fitted", "workshop-fitted"}
    start = at_risk[at_risk["months"].eq(0)].set_index("group")["at_risk"]
    assert start.to_dict() == {"as-supplied": 20, "owner-fitted": 10, "workshop-fitted": 10}


def test_one_pattern(store_path: Path) -> None:
    with open_store(store_path) as store:
        study = study_loosening(Snapshot(store=store, known_on=AS_OF, pattern="D8"), horizon_months=9.0)
    answer = plain(study)
    assert (answer["pattern"], answer["fittings"], answer["failures"]) == ("D8", 20, 7)
    assert "by_pattern" not in answer
    assert [entry["months"] for entry in answer["risk"]] == [6.0, 9.0, 12.0, 24.0]


def test_only_what_was_known_then_counts(store_path: Path) -> None:
    with open_store(store_path) as store:
        early = study_loosening(Snapshot(store=store, known_on=datetime.date(2024, 5, 1)))
    assert (early.everything.fittings, early.everything.failures, early.left_out) == (41, 1, {})


def test_no_fittings_cannot_answer(store_path: Path) -> None:
    with open_store(store_path) as store:
        with pytest.raises(AnalysisError, match="no fitting is on record for pattern D9") as error:
            study_loosening(Snapshot(store=store, known_on=AS_OF, pattern="D9"))
        assert "add the tables" in error.value.needed
        with pytest.raises(AnalysisError, match="no fitting is on record by 2020"):
            study_loosening(Snapshot(store=store, known_on=datetime.date(2020, 1, 1)))


@pytest.mark.parametrize(("followed_to", "ticks"), [(0.0, 1), (11.0, 4), (35.0, 6), (60.0, 6), (400.0, 9)])
def test_months_of_the_table_are_few(followed_to: float, ticks: int) -> None:
    assert len(ticks_months(followed_to)) == ticks
