"""How far the measurements can be trusted: the invented history gives back its truth, and small shops get an answer."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.analysis.estimate import Estimate
from wearstats.errors import AnalysisError
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.report.remarks.document import plain
from wearstats.resources import resource
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.gauging.study import GaugingStudy, study_gauging
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> GaugingStudy:
    return study_gauging(demo)


def _holds(estimate: Estimate, truth: float) -> bool:
    assert estimate.low is not None
    assert estimate.high is not None
    return estimate.low <= truth <= estimate.high


def test_the_quality_of_home_measuring_comes_back(study: GaugingStudy) -> None:
    truth = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    home = study.by_class["home"]
    assert _holds(home.bias_um, truth["bias_um"]["home"])
    assert _holds(
        home.bias_sd_um, float(np.hypot(truth["components_um"]["measurer"], truth["components_um"]["inspection"]))
    )
    assert _holds(home.repeatability_um, truth["components_um"]["repeatability_home"])
    assert home.bias_sd_with_check_piece_um.value is not None
    assert home.bias_sd_um.value is not None
    assert home.bias_sd_with_check_piece_um.value < home.bias_sd_um.value


def test_document_has_the_contract(study: GaugingStudy) -> None:
    document = plain(study)
    for kind in ("home", "workshop"):
        wanted = {"inspections", "bias_um", "bias_sd_um", "bias_sd_with_check_piece_um", "repeatability_um"}
        assert wanted <= set(document[kind])
    assert "grr_percent_of_25_um" in document
    wanted = {"splines", "stations", "inspections", "same_measurer", "check_piece", "width_u_um"}
    assert wanted | {"right_size_probability"} <= set(document["plan"][0])
    assert "NaN" not in json.dumps(document, allow_nan=False)


def test_more_is_never_worse(study: GaugingStudy) -> None:
    plans = study.plans_frame()
    single = plans[(plans["inspections"] == 1) & (plans["trials"] == 1)]
    for _, group in single.groupby(["check_piece", "stations"]):
        assert group.sort_values("splines")["width_u_um"].is_monotonic_decreasing
    with_piece = single[single["check_piece"]].set_index(["splines", "stations"])["width_u_um"]
    without = single[~single["check_piece"]].set_index(["splines", "stations"])["width_u_um"]
    assert (with_piece < without).all()


def test_the_ends_alone_tell_nothing_of_a_hollow(study: GaugingStudy) -> None:
    plans = study.plans_frame()
    single = plans[(plans["inspections"] == 1) & (plans["trials"] == 1) & ~plans["check_piece"]]
    hollow = single.groupby("stations")["hollow_u_um"].min()
    assert hollow[3] < 0.5 * hollow[2]


def test_the_answer_names_what_to_ask_for(study: GaugingStudy) -> None:
    text = "\n".join(gauging_sentences(study))
    assert "So ask for " in text
    assert "None" not in text
    assert "nan" not in text


def test_one_inspection_gives_an_answer_that_is_assumed(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.39, 4.39)}, folder=tmp_path)
    with open_store(path) as store:
        study = study_gauging(Snapshot(store=store, known_on=AS_OF))
    home = study.by_class["home"]
    assert {home.bias_um.status, home.bias_sd_um.status, home.repeatability_um.status} == {"assumed"}
    assert "assumed" in " ".join(gauging_sentences(study))
    assert len(study.measurers) == 0


def test_without_a_reading_it_says_what_is_needed(tmp_path: Path) -> None:
    create_store(tmp_path / "empty.duckdb")
    with open_store(tmp_path / "empty.duckdb") as store, pytest.raises(AnalysisError, match="no width reading"):
        study_gauging(Snapshot(store=store, known_on=AS_OF))


def test_each_sort_of_gauge_is_told_by_itself(study: GaugingStudy) -> None:
    truth = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    gauges = study.gauges_frame()
    assert set(gauges["measured_at"]) == {"home"}
    assert len(gauges) == 5
    fine = gauges[gauges["step_um"] < 25]
    for estimate in fine["repeatability_um"]:
        assert _holds(estimate, truth["components_um"]["repeatability_home"])
    assert int(gauges["inspections"].sum()) == study.by_class["home"].inspections


def test_the_trade_s_figures_are_those_of_the_components(study: GaugingStudy) -> None:
    truth = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))["components_um"]
    figures = study.figures["home"]
    error = truth["measurer"] ** 2 + truth["inspection"] ** 2 + truth["repeatability_home"] ** 2
    parts = sum(truth[name] ** 2 for name in ("shaft_within_duty", "spline", "shaft_station", "cell"))
    assert _holds(figures.grr_um, float(error**0.5))
    assert _holds(figures.grr_percent_of_study, float(100 * (error / (error + parts)) ** 0.5))
    assert figures.ndc == int(1.41 * (figures.part_um.value or 0) / (figures.grr_um.value or 1))


def test_strays_are_listed_and_few(study: GaugingStudy) -> None:
    strays = study.strays
    assert len(strays) < 0.02 * sum(quality.inspections for quality in study.by_class.values())
    assert {"inspection", "spline", "station", "found_um", "expected_um", "why"} <= set(strays.columns)
