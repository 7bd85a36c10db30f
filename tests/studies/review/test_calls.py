"""Whom to call: safety first, overdue next, and what an answer teaches."""

import json
from pathlib import Path

import pandas as pd
import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.errors import AnalysisError, ReportError
from wearstats.report.calls.sentences import calls_sentences
from wearstats.report.calls.table import calls_tables, write_calls
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.review.calls import CallsStudy, study_calls
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> CallsStudy:
    return study_calls(demo)


def test_document_bears_the_contract(study: CallsStudy) -> None:
    document = plain(study)
    json.dumps(document, allow_nan=False)
    first = document["calls"][0]
    assert {"fitting", "shaft", "due_on", "why", "risk"} <= set(first)
    assert {"value", "low", "high", "level", "method", "method_code", "status"} == set(first["risk"])


def test_who_may_be_loose_comes_first_then_who_is_overdue(study: CallsStudy) -> None:
    calls = study.calls
    warn, risky = calls["to_warn"], calls["risk"] >= WARN_FROM
    assert (warn == (risky & ~calls["told"])).all()
    assert warn.iloc[: warn.sum()].all()
    assert calls["risk"].iloc[: warn.sum()].is_monotonic_decreasing
    warned = calls.iloc[warn.sum() : risky.sum()]
    assert (warned["told"] & (warned["risk"] >= WARN_FROM)).all()
    assert warned["risk"].is_monotonic_decreasing
    rest = calls[~risky]
    late = rest["overdue_days"] > 0
    assert late.iloc[: late.sum()].all()
    assert rest["teaches"].iloc[: late.sum()].is_monotonic_decreasing
    assert rest["due_on"].iloc[late.sum() :].is_monotonic_increasing


def test_due_days_follow_the_last_word(study: CallsStudy) -> None:
    calls = study.calls
    assert (calls["due_on"] > calls["last_word_on"]).all()
    never = calls[calls["last_word_on"] == calls["fitted_on"]]
    assert ((never["due_on"] - never["fitted_on"]).dt.days.isin([30, 31])).all()


def test_answers_teach_something_and_a_year_of_them_more(study: CallsStudy) -> None:
    teaches = study.calls["teaches"]
    assert teaches.between(0, 1).all()
    assert teaches.max() > 0.002
    assert study.slope_sd is not None
    assert study.slope_sd_after is not None
    assert study.slope_sd_after < study.slope_sd


def test_the_file_holds_all_of_them(study: CallsStudy, tmp_path: Path) -> None:
    read = pd.read_csv(write_calls(study, tmp_path / "calls.csv"))
    assert read["fitting"].tolist() == study.calls["fitting"].tolist()
    read = pd.read_excel(write_calls(study, tmp_path / "calls.xlsx"))
    assert read["due_on"].tolist() == study.calls["due_on"].dt.strftime("%Y-%m-%d").tolist()
    with pytest.raises(ReportError, match=r"allowed: \.csv, \.xlsx"):
        write_calls(study, tmp_path / "calls.txt")


def test_words_and_table(study: CallsStudy) -> None:
    text = " ".join(calls_sentences(study))
    assert f"Warn the owners of {study.figures.to_warn} of {len(study.calls)} hubs" in text
    assert f"{study.overdue} of {len(study.calls)} owners" in text
    warn, ask = calls_tables(study)
    assert len(warn.rows) == study.figures.to_warn
    assert len(ask.rows) == 20


def test_without_a_law_they_stand_by_their_due_day(tmp_path: Path) -> None:
    path = make_store(tmp_path / "small.duckdb", plain_frames())
    with open_store(path) as store:
        study = study_calls(Snapshot(store=store, known_on=AS_OF))
    assert study.why_no_law
    assert study.calls["risk"].isna().all()
    assert "by their due day alone" in " ".join(calls_sentences(study))
    assert plain(study)["calls"][0]["risk"]["status"] == "none"


def test_no_hub_in_use_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.duckdb"
    create_store(path)
    with open_store(path) as store, pytest.raises(AnalysisError, match="no fitting is on record"):
        study_calls(Snapshot(store=store, known_on=AS_OF))
