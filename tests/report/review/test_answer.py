"""The short answers of review, calls and returns: within budget, no number that is nonsense, one number a fact."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.shop_store import AS_OF
from tests.studies.support.small_shops import SMALL_SHOPS
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.monitoring.risk_adjusted_cusum import Alarm
from wearstats.report.answers import short_answers
from wearstats.report.calls.sentences import calls_sentences
from wearstats.report.calls.table import calls_tables, write_calls
from wearstats.report.remarks.document import plain
from wearstats.report.rendering.short_answer import WIDTH, ShortAnswer, SmallTable
from wearstats.report.review.sentences import review_sentences
from wearstats.report.sections import review_section
from wearstats.store.database.connection import open_store
from wearstats.studies.counts.returns import ReturnsStudy, study_returns
from wearstats.studies.demo import demo_as_of
from wearstats.studies.forecast.figures import Figures
from wearstats.studies.forecast.observed_expected import USED
from wearstats.studies.review.actions import FIRST
from wearstats.studies.review.calls import CallsStudy, study_calls
from wearstats.studies.review.study import ReviewStudy, study_review
from wearstats.studies.snapshot import Snapshot

MOST_LINES = {"review": 18, "calls": 14, "returns": 14}
NAMES = re.compile(r"\b(?:owner-\S+|[A-Z]-?\w*\d+|\d{4}Q\d|\d{4}-\d\d-\d\d)")
NUMBER = re.compile(r"\d+(?:\.\d+)?")

Answers = tuple[ReviewStudy, CallsStudy, ReturnsStudy]


@pytest.fixture(scope="module")
def of_the_demo(demo: Snapshot, demo_review: ReviewStudy) -> Answers:
    return demo_review, study_calls(demo), study_returns(demo)


@pytest.fixture(scope="module", params=[*SMALL_SHOPS, "demo"])
def answers(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, of_the_demo: Answers
) -> Iterator[Answers]:
    """Give the three answers of the demo and of each small shop."""
    if request.param == "demo":
        yield of_the_demo
        return
    folder = tmp_path_factory.mktemp("shop")
    with open_store(SMALL_SHOPS[request.param](folder / "shop.duckdb", folder)) as store:
        snapshot = Snapshot(store=store, known_on=AS_OF)
        yield study_review(snapshot), study_calls(snapshot), study_returns(snapshot)


def said(answers: Answers) -> dict[str, ShortAnswer]:
    found = {}
    for question, answer in zip(("review", "calls", "returns"), answers, strict=True):
        (found[question],) = short_answers(question, answer)
    return found


def test_each_keeps_to_its_budget(answers: Answers) -> None:
    for question, short in said(answers).items():
        lines = short.lines()
        assert len(lines) <= MOST_LINES[question], "\n".join(lines)
        assert len(" ".join(lines).split()) <= 160
        assert max(map(len, lines)) <= WIDTH
        assert len(short.verdict.split()) <= 15
        for part in (short.verdict, *short.body):
            if not isinstance(part, SmallTable):
                assert len(NUMBER.findall(NAMES.sub("", part))) <= 4, part


def test_no_number_rounds_to_nonsense(answers: Answers) -> None:
    review, calls, _ = answers
    words = [
        *(line for short in said(answers).values() for line in short.lines()),
        *review_sentences(review),
        *calls_sentences(calls),
    ]
    for line in words:
        assert "nan" not in line.lower().split(), line
        assert not re.search(r"\b(?:about|the) 0\b|\b0 (?:more|hubs|owners)\b|\.\.$|…\.", line), line
        # hubs and owners are whole
        assert not re.search(r"\d\.\d+ (?:hubs?|owners?|failures?|worked loose)\b", line), line


def test_no_more_fail_than_there_are_hubs(answers: Answers) -> None:
    figures = answers[1].figures
    for estimate in (figures.failures_next_quarter, figures.failures_next_year):
        ends = [end for end in (estimate.low, estimate.value, estimate.high) if end is not None]
        assert ends == sorted(ends)
        assert all(0 <= end <= figures.hubs_in_use for end in ends)
    expected = answers[0].expected
    if expected is not None and expected.high is not None:
        assert expected.high <= answers[0].counts.hubs
    for number in (figures.loose_now, figures.loose_within_quarter):
        assert number is None or 0 <= number <= figures.hubs_looked_at


def test_one_fact_has_one_number_everywhere(answers: Answers, tmp_path: Path) -> None:
    review, calls, _ = answers
    assert review.in_use is not None
    figures, short = calls.figures, said(answers)
    assert plain(review)["figures"] == plain(calls)["figures"] == plain(figures)
    assert len(plain(review)["to_warn"]) == figures.to_warn
    assert len(calls.to_warn().calls) == figures.to_warn
    assert figures.to_warn + figures.to_ask == int((calls.calls["to_warn"] | calls.calls["to_ask"]).sum())
    assert not (calls.calls["to_warn"] & calls.calls["to_ask"]).any()
    by_do = {action.do: action.number for action in review.actions}
    assert by_do.get("warn", 0) == figures.to_warn
    assert by_do.get("call", 0) == figures.to_ask
    # in words, as tables, on the page and in a file
    if figures.to_warn:
        assert short["calls"].verdict.startswith(f"{figures.to_warn} to warn")
        lines = " ".join(part for part in short["review"].body if isinstance(part, str))
        assert f"Then warn {figures.to_warn - 1} more" in lines
        assert len(calls_tables(calls)[0].rows) == figures.to_warn
        folded = review_section(review).more
        assert folded is not None
        warned = next(table for table in folded.tables if "to be warned" in table.caption)
        assert len(warned.rows) == figures.to_warn
        assert f"{figures.to_warn} hubs" in warned.caption
        assert [row[2] for row in warned.rows] == calls.to_warn().calls["shaft"].tolist()
    read = pd.read_csv(write_calls(calls, tmp_path / "calls.csv"))
    assert int(read["to_warn"].sum()) == figures.to_warn
    assert review.forecast is not None
    assert review.forecast.hubs == figures.hubs_in_use == len(calls.calls)
    assert review.forecast.next_quarter == figures.failures_next_quarter


def test_who_is_first_is_first_in_both(of_the_demo: Answers) -> None:
    review, calls, _ = of_the_demo
    first = calls.calls.iloc[0]
    short = said(of_the_demo)
    assert f"Stop and check {first['shaft']} ({first['owner']}) first" in " ".join(map(str, short["review"].body))
    table = short["calls"].body[0]
    assert isinstance(table, SmallTable)
    assert table.rows[0][:3] == (first["owner"], first["shaft"], first["hub"])
    # hubs to ask back take the line of one
    assert len(table.rows) == 8 - (not calls.loans.empty)
    assert review.in_use is not None
    held = review.in_use.held_by_first(FIRST)
    assert held == pytest.approx(calls.calls["loose_now"].head(FIRST).sum())
    assert held is not None
    assert held < (calls.figures.loose_now or 0.0)


def test_only_those_to_be_warned_are_all_there(of_the_demo: Answers) -> None:
    calls = of_the_demo[1]
    (short,) = short_answers("calls", calls.to_warn())
    table = short.body[0]
    assert isinstance(table, SmallTable)
    assert len(table.rows) == calls.figures.to_warn
    assert short.verdict == said(of_the_demo)["calls"].verdict


def test_each_is_called_by_the_owners_code(of_the_demo: Answers, demo: Snapshot) -> None:
    calls = of_the_demo[1].calls
    home = demo.store.table(
        "select shaft, arg_max(measured_by, (measured_on, inspection)) as owner from inspections "
        "where measured_at = 'home' and measured_on <= date '2026-09-30' group by shaft"
    ).set_index("shaft")["owner"]
    measured = calls[calls["shaft"].isin(home.index)]
    assert len(measured) > 0.9 * len(calls)
    assert (measured["owner"] == measured["shaft"].map(home)).all()
    assert calls["owner"].notna().all()


def test_groups_are_one_line_unless_one_stands_out(of_the_demo: Answers) -> None:
    review = of_the_demo[0]
    body = " ".join(part for part in said(of_the_demo)["review"].body if isinstance(part, str))
    assert f"Of {len(review.counts.changes())} groups none stands out" in body
    groups = review.counts.groups.copy()
    groups.loc[groups.index[0], ["p", "p_adjusted"]] = [1e-6, 1e-4]
    (short,) = short_answers("review", replace(review, counts=replace(review.counts, groups=groups)))
    body = " ".join(part for part in short.body if isinstance(part, str))
    assert f"Look into {groups['by'].iloc[0]} {groups['group'].iloc[0]}: " in body
    assert "none stands out" not in body


def test_an_alarm_of_the_year_before_is_said_and_is_no_verdict(of_the_demo: Answers) -> None:
    review = of_the_demo[0]
    assert review.forecast is not None
    assert review.forecast.watch is not None
    last = len(review.forecast.earlier) - 1
    sums = dict(review.forecast.watch.sums)
    sums[USED] = replace(sums[USED], alarms=(Alarm(step=last - 1, since=last - 2, ratio=2.04),))
    forecast = replace(review.forecast, watch=replace(review.forecast.watch, sums=sums))
    (short,) = short_answers("review", replace(review, forecast=forecast))
    assert "An alarm went in 2026Q2: since 2026Q1 2.0 times as many as predicted." in short.body
    assert short.verdict.startswith("Quiet")


def test_failures_of_hubs_fitted_in_the_quarter_are_told_apart(of_the_demo: Answers) -> None:
    review = of_the_demo[0]
    more = replace(review, counts=replace(review.counts, failures=review.seen + 2))
    (short,) = short_answers("review", more)
    assert f"In all {review.seen + 2} worked loose; 2 of them went on in the quarter itself." in short.body


@pytest.mark.parametrize(("value", "words"), [(0.3, "fewer than one more"), (0.0, "none more"), (4.9, "about 5 more")])
def test_expected_numbers_are_said_as_one_can_count(of_the_demo: Answers, value: float, words: str) -> None:
    review = of_the_demo[0]
    assert review.in_use is not None
    soon = Estimate(value=value, low=0.0, high=np.ceil(value), level=0.9, method=review.returns_next.method)
    figures: Figures = replace(review.in_use.figures, failures_next_quarter=soon)
    (short,) = short_answers("review", replace(review, in_use=replace(review.in_use, figures=figures)))
    assert f"Next quarter {words} will be reported loose" in " ".join(map(str, short.body))


def test_an_earlier_day_has_its_own_figures(demo: Snapshot) -> None:
    then = study_calls(demo.at(datetime.date(2025, 3, 31), models_from=datetime.date(2025, 3, 31)))
    assert 0 < then.figures.hubs_in_use < 344
    assert demo_as_of() > then.as_of
