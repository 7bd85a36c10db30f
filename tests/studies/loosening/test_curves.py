"""The study of curves on a store counted by hand, and with gaps given."""

import json

import pandas as pd
import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.analysis.histories.build import Histories
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import open_store
from wearstats.studies.inputs.histories import histories_of, of_pattern
from wearstats.studies.loosening.curves import BY, CurvesStudy, curves_of
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def histories(tmp_path_factory: pytest.TempPathFactory) -> Histories:
    path = make_store(tmp_path_factory.mktemp("curves") / "fittings.duckdb", plain_frames())
    with open_store(path) as store:
        return histories_of(Snapshot(store=store, known_on=AS_OF))


def _gaps() -> pd.DataFrame:
    """Gaps of F0 to F29: 0, 10, 20 um by turns of ten."""
    return pd.DataFrame({"fitting": [f"F{n}" for n in range(30)], "gap_left_um": [n // 10 * 10.0 for n in range(30)]})


@pytest.fixture(scope="module")
def study(histories: Histories) -> CurvesStudy:
    return curves_of(histories, _gaps(), horizon_months=12.0, draws=NamedDraws(1))


def test_every_grouping_is_there_with_its_counts(study: CurvesStudy) -> None:
    assert tuple(study.groupings) == BY
    sent = {group.group: group for group in study.groupings["method_sent"].groups}
    counts = {name: (group.fittings, group.failures) for name, group in sent.items()}
    assert counts == {"as-supplied": (20, 6), "owner-fitted": (10, 0), "workshop-fitted": (10, 2)}
    assert sent["as-supplied"].risk.value == pytest.approx(6 / 20, abs=1e-4)
    assert sent["owner-fitted"].risk.status == "bounded"
    said = study.groups_frame("method_sent").set_index("group")["said"]
    assert say(said["owner-fitted"]).startswith("none of 10 worked loose; the chance by month 12")
    assert said.notna().tolist() == [False, True, False]
    assert study.groups_frame("pattern")["group"].tolist() == ["D10", "D8"]
    for by in ("method_sent", "method_done", "pattern", "duty", "region"):
        assert study.groups_frame(by)["fittings"].sum() == study.everything.fittings == 40
        assert study.groupings[by].without == 0


def test_gap_bands_leave_out_what_is_not_known(study: CurvesStudy) -> None:
    bands = study.groups_frame("gap_band")
    # F0 to F29 in thirds; the rest, F40 left out and F41 never on, is not known
    assert bands["group"].tolist() == ["up to 5 µm", "5 to 15 µm", "over 15 µm"]
    assert bands["fittings"].tolist() == [10, 10, 10]
    assert study.groupings["gap_band"].without == 10


def test_without_gaps_there_is_no_grouping_by_gap(histories: Histories) -> None:
    study = curves_of(histories, None, draws=NamedDraws(1))
    assert tuple(study.groupings) == BY[:-1]


def test_tests_allow_for_all_groupings(study: CurvesStudy) -> None:
    plain_p = {by: grouping.test.interval_log_rank_p for by, grouping in study.groupings.items()}
    compared = {by: (p, study.groupings[by].adjusted_p or 0.0) for by, p in plain_p.items() if p is not None}
    assert set(compared) == {"method_sent", "method_done", "pattern", "gap_band"}
    assert study.groupings["duty"].test.why == remark(SurvivalRemark.ONE_GROUP)
    assert all(adjusted >= p for p, adjusted in compared.values())
    smallest = min(p for p, _ in compared.values())
    assert min(adjusted for _, adjusted in compared.values()) == pytest.approx(min(1.0, 4 * smallest))
    assert study.compared == remark(LooseningStudyRemark.COMPARED, groupings=4)


def test_frames_for_the_chart(study: CurvesStudy) -> None:
    for by in BY:
        curves, at_risk = study.curves_frame(by), study.at_risk_frame(by)
        assert list(curves) == ["group", "months", "still_tight", "low", "high"]
        assert list(at_risk) == ["group", "months", "at_risk"]
        assert curves["low"].between(0, curves["still_tight"]).all()
        assert curves["high"].between(curves["still_tight"], 1).all()
        assert (at_risk.groupby("group")["at_risk"].diff().dropna() <= 0).all()
    start = study.at_risk_frame("method_sent").groupby("group")["at_risk"].first()
    assert start.to_dict() == {"as-supplied": 20, "owner-fitted": 10, "workshop-fitted": 10}


def test_document_is_plain_json(study: CurvesStudy) -> None:
    text = json.dumps(plain(study), allow_nan=False)
    document = json.loads(text)
    assert document["estimator"] == "turnbull"
    assert set(document["by"]) == set(BY)
    group = document["by"]["method_sent"]["groups"]["as-supplied"]
    assert group["lost"] == {"flanks": 6, "other causes": 0, "removed": 0}
    assert group["curve"][0] == {"months": 0.0, "at_risk": 20, "still_tight": 1.0, "low": 1.0, "high": 1.0}
    assert group["lost_by_the_end"]["flanks"]["share"] == pytest.approx(0.3, abs=1e-3)


def test_one_pattern_and_no_fittings(histories: Histories) -> None:
    study = curves_of(of_pattern(histories, "D8"), None, draws=NamedDraws(1))
    assert study.groups_frame("pattern")["group"].tolist() == ["D8"]
    with pytest.raises(AnalysisError, match="no fitting is on record"):
        curves_of(of_pattern(histories, "D9"), None, draws=NamedDraws(1))


def test_same_seed_same_answer(histories: Histories, study: CurvesStudy) -> None:
    again = curves_of(histories, _gaps(), horizon_months=12.0, draws=NamedDraws(1))
    assert plain(again) == plain(study)
