"""One fact, one number: what several answers of the demo show is the same in all, in words, rows and documents."""

from __future__ import annotations

import re
from typing import Any

import pytest

from wearstats.report.answers import short_answers, wording
from wearstats.report.remarks.document import plain
from wearstats.studies.counts.returns import study_returns
from wearstats.studies.loosening.study import LooseningStudy
from wearstats.studies.review.calls import CallsStudy, study_calls
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shelf.study import study_shelf
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy


@pytest.fixture(scope="module")
def demo_calls(demo: Snapshot) -> CallsStudy:
    return study_calls(demo)


def in_words(question: str, result: Any) -> str:
    """Give all that is said, in short and in full, in one line."""
    short = [line for answer in short_answers(question, result) for line in answer.lines()]
    full = [*wording(question).sentences(result), *(table.caption for table in wording(question).tables(result))]
    return " ".join(" ".join([*short, *full]).split())


def one_number(pattern: str, *texts: str) -> float:
    """Give the number that all places of a pattern show; there is at least one."""
    found = {float(number.replace("\u202f", "")) for text in texts for number in re.findall(pattern, text)}
    assert len(found) == 1, (pattern, found)
    return found.pop()


def test_owners_to_warn_and_to_ask(demo_review: ReviewStudy, demo_calls: CallsStudy) -> None:
    review, calls = plain(demo_review), plain(demo_calls)
    warn = review["figures"]["to_warn"]
    assert warn == calls["figures"]["to_warn"] == len(review["to_warn"])
    assert warn == sum(action["number"] for action in review["actions"] if action["do"] == "warn")
    assert warn == sum(row["to_warn"] for row in calls["calls"])
    told = in_words("review", demo_review), in_words("calls", demo_calls)
    assert one_number(r"Warn the owners of (\d+) hubs", *told) == warn
    assert one_number(r"(\d+) to warn", *told) == warn
    assert one_number(r"Then warn (\d+) more", *told) == warn - 1
    ask = review["figures"]["to_ask"]
    assert ask == calls["figures"]["to_ask"] == one_number(r"[Tt]hen (?:ask )?(\d+)(?: to ask)? how it holds", *told)
    assert ask == sum(action["number"] for action in review["actions"] if action["do"] == "call")


def test_whoever_is_at_risk_is_so_in_every_answer(
    demo: Snapshot, demo_review: ReviewStudy, demo_calls: CallsStudy
) -> None:
    by_review = {row["shaft"]: row["risk_quarter"] for row in plain(demo_review)["to_warn"]}
    by_calls = {row["shaft"]: row["risk"]["value"] for row in plain(demo_calls)["calls"] if row["to_warn"]}
    assert by_review == by_calls
    # a shaft's own answer asks whether its hub is loose by the same chances
    at_risk = shaft_background(demo).at_risk
    assert {shaft: at_risk[shaft][1] for shaft in by_review} == pytest.approx(by_review)


def test_the_last_word_is_the_day_of_the_last_news(demo: Snapshot, demo_calls: CallsStudy) -> None:
    news = dict(
        demo.store.rows("select fitting, max(seen_on)::varchar from follow_ups where state = 'tight' group by 1")
    )
    calls = plain(demo_calls)["calls"]
    heard = {row["fitting"]: row["last_word_on"] for row in calls if row["last_word_on"] > row["fitted_on"]}
    assert heard
    assert heard == {fitting: news[fitting] for fitting in heard}


def test_hubs_in_use(demo_review: ReviewStudy, demo_calls: CallsStudy) -> None:
    review, calls = plain(demo_review), plain(demo_calls)
    in_use = review["hubs_in_use"]
    assert in_use == review["figures"]["hubs_in_use"] == calls["figures"]["hubs_in_use"] == len(calls["calls"])
    told = in_words("review", demo_review), in_words("calls", demo_calls)
    assert one_number(r"of (\d+) (?:hubs )?in use", *told) == in_use


def test_failures_of_the_quarter_and_of_the_next(demo_review: ReviewStudy) -> None:
    review = plain(demo_review)
    failures = review["failures"]
    last = review["by_quarter"][-1]
    assert failures == review["seen"] == last["failures"]
    told = in_words("review", demo_review)
    assert one_number(r"(\d+) worked loose, \d+ expected", told) == failures
    assert one_number(r"(\d+) hubs became known to have worked loose", told) == failures
    assert review["forecast_next"]["value"] == review["figures"]["failures_next_quarter"]["value"]
    assert review["forecast_year"]["value"] == review["figures"]["failures_next_year"]["value"]


def test_returns(demo: Snapshot, demo_review: ReviewStudy) -> None:
    returns = study_returns(demo)
    at = list(returns.quarters).index(str(demo_review.quarter))
    came_back = sum(returns.counts[at])
    assert came_back == plain(demo_review)["returned"]
    told = in_words("review", demo_review), in_words("returns", returns)
    assert one_number(r"(\d+) came back(?: \([^)]*\))?, \d+", *told) == came_back
    assert plain(demo_review)["sent"] == returns.sent[at]


def test_demand_and_hubs_to_make(demo_review: ReviewStudy, demo_stock: StockStudy) -> None:
    made = {name: sum(part.make.make.values()) for name, part in demo_stock.by_pattern.items() if part.make}
    review = plain(demo_review)
    assert sum(action["number"] for action in review["actions"] if action["do"] == "make") == sum(made.values())
    told = in_words("review", demo_review)
    assert one_number(r"Make (\d+) hubs", told) == sum(made.values())
    shown = in_words("stock", demo_stock)
    for answer, (name, hubs) in zip(short_answers("stock", demo_stock), made.items(), strict=True):
        assert one_number(r"Make now (\d+) hubs", " ".join(answer.lines())) == hubs
        year = demo_stock.by_pattern[name].year.value
        assert year is not None
        assert one_number(rf"about (\d+) hubs of pattern {name}", shown) == round(year)
        assert plain(demo_stock)["by_pattern"][name]["hubs_next_year"]["value"] == year


def test_gap_at_the_limit(demo_review: ReviewStudy, demo_loosening: LooseningStudy) -> None:
    gap = plain(demo_loosening)["gap_at_risk_limit_um"]["value"]
    (stop,) = (action["number"] for action in plain(demo_review)["actions"] if action["do"] == "stop")
    assert stop == pytest.approx(gap)


def test_hubs_to_ask_back_are_so_in_every_answer(
    demo: Snapshot, demo_review: ReviewStudy, demo_calls: CallsStudy
) -> None:
    overdue = plain(study_shelf(demo).overdue)
    assert overdue
    assert overdue == plain(demo_calls)["loans_overdue"]
    (action,) = (action for action in plain(demo_review)["actions"] if action["do"] == "ask-back")
    assert action["number"] == sum(loan["to_come"] for loan in overdue)
    late = overdue[0]["overdue_days"]
    for question, result in (("shelf", study_shelf(demo)), ("calls", demo_calls), ("review", demo_review)):
        assert f"for hub {overdue[0]['hubs'][0]}: due {overdue[0]['back_by']}, {late} days late" in in_words(
            question, result
        )
