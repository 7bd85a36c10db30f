"""The short answer on sizes and stock: its budgets, and what it says where."""

from __future__ import annotations

import dataclasses
import re

import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.report.rendering.short_answer import WIDTH, ShortAnswer
from wearstats.report.stock.amounts import about, engraved, number_word
from wearstats.report.stock.answer import stock_answers
from wearstats.report.stock.as_good import as_good_in_words
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import PatternStock, StockStudy
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.study import study_stock

LINES, WORDS, NUMBERS = 16, 160, 4


def text(answer: ShortAnswer) -> str:
    return re.sub("[ \n]+", " ", " ".join(answer.lines()))


def said(study: StockStudy, **changes: object) -> str:
    """Say the only pattern's answer with parts of it changed."""
    (name, part), *_ = study.by_pattern.items()
    (answer,) = stock_answers(dataclasses.replace(study, by_pattern={name: dataclasses.replace(part, **changes)}))  # type: ignore[arg-type]
    return text(answer)


@pytest.fixture(scope="module")
def part(demo_stock_d8: StockStudy) -> PatternStock:
    return demo_stock_d8.by_pattern["D8"]


def test_it_keeps_to_its_budget(demo_stock: StockStudy) -> None:
    answers = stock_answers(demo_stock)
    assert len(answers) == 2
    for answer in answers:
        lines = answer.lines()
        assert len(lines) <= LINES
        assert max(map(len, lines)) <= WIDTH
        # thousands are set apart by a narrow space within one number
        assert len(text(answer).split(" ")) <= WORDS
        assert len(answer.verdict.split(" ")) <= 15


def test_verdict_table_and_one_list(demo_stock_d8: StockStudy, part: PatternStock) -> None:
    (answer,) = stock_answers(demo_stock_d8)
    assert part.make is not None
    whole = text(answer)
    assert whole.startswith("WHICH SIZES FOR D8? ")
    assert len(re.findall(r"\bMake (?:now|none)", whole)) == 1
    assert f"Make now {part.make.hubs} hubs" in whole
    for um, hubs in part.make.use_up.items():
        assert f"{hubs} of {engraved(um)}" in whole
    marked = [line for line in answer.lines() if line.startswith("  >")]
    assert len(marked) == 1
    assert marked[0].split()[1] == str(len(part.choice.chosen.undersizes_um))
    assert "Gauging and sending the best" in whole
    assert re.search(r"Choose: --sizes \d, --hubs \d+, --budget \d+\. Then: --making-list DIR\.", whole)


@pytest.mark.parametrize(
    ("low", "value", "high", "verdict"),
    [
        (230.0, 450.0, 710.0, "saving 450 EUR a year (230 to 710) against today's seven."),
        (-44.0, 420.0, 1070.0, "saving against today's seven not settled: 420 EUR a year (-44 to 1\u202f100)."),
        (-710.0, -450.0, -230.0, "costing 450 EUR a year (230 to 710) more than today's seven."),
    ],
)
def test_a_saving_is_said_no_surer_than_it_is(
    demo_stock_d8: StockStudy, part: PatternStock, low: float, value: float, high: float, verdict: str
) -> None:
    choice = dataclasses.replace(part.choice, saving=Estimate(value=value, low=low, high=high))
    assert verdict in said(demo_stock_d8, choice=choice)


def test_where_todays_sizes_stay_that_is_the_verdict(demo_stock_d8: StockStudy, part: PatternStock) -> None:
    assert part.choice.today is not None
    choice = dataclasses.replace(part.choice, chosen=part.choice.today, falls_out=())
    whole = said(demo_stock_d8, choice=choice)
    assert "Keep today's seven: no other set saves 3 in 100." in whole
    assert "Falls out" not in whole
    assert "> today 7" in whole


def test_without_sizes_on_offer_the_cost_is_said(demo_stock_d8: StockStudy, part: PatternStock) -> None:
    choice = dataclasses.replace(part.choice, today=None, saving=None, falls_out=())
    number = len(part.choice.chosen.undersizes_um)
    assert f"{number_word(number).capitalize()}, at " in said(demo_stock_d8, choice=choice)


def test_what_is_not_known_is_said(demo_stock_d8: StockStudy) -> None:
    assert "Cannot be told yet: too few months of orders" in said(demo_stock_d8, year_nearly_unknown=True)
    why = remark(StockStudyRemark.AS_MANY_AS_SHAFTS)
    whole = said(demo_stock_d8, make=None, why_no_make=why, why_no_risk=why, year_from=None)
    assert "How many to make cannot be told: as many hubs" in whole
    assert "Failures are not counted: as many hubs" in whole
    assert "no order is on record" in whole
    unanswered = dataclasses.replace(demo_stock_d8, by_pattern={}, unanswered={"D9": why})
    (answer,) = stock_answers(unanswered)
    assert text(answer).startswith("WHICH SIZES FOR D9? Cannot be told: as many hubs")


def test_a_limit_is_said_with_what_it_costs(demo: Snapshot) -> None:
    study = study_stock(demo.of("D8"), hubs=10)
    make = study.by_pattern["D8"].make
    assert make is not None
    (answer,) = stock_answers(study)
    assert f"Make now {make.hubs} hubs" in text(answer)
    assert f"{make.unlimited_hubs} would pay; the limit costs {about(make.limit_costs)} EUR." in text(answer)
    assert len(answer.lines()) <= LINES
    (answer,) = stock_answers(study_stock(demo.of("D8"), hubs=0))
    assert "Make none now." in text(answer)


def test_a_limit_holds_for_all_patterns_together(demo: Snapshot) -> None:
    study = study_stock(demo, hubs=30, budget=1500.0)
    makes = [part.make for part in study.by_pattern.values() if part.make is not None]
    assert len(makes) == 2
    hubs, money = sum(make.hubs for make in makes), sum(make.money for make in makes)
    assert 0 < hubs <= 30
    assert 0 < money <= 1500.0
    # no other way to share it out among whole parts of the budget costs less
    cost = sum(make.limit_costs for make in makes)
    for part in (0, 600, 1200):
        apart = [study_stock(demo.of(name), hubs=30, budget=float(share)).by_pattern[name].make
                 for name, share in zip(study.by_pattern, (part, 1500 - part), strict=True)]  # fmt: skip
        if sum(make.hubs for make in apart if make) <= 30:
            assert cost <= sum(make.limit_costs for make in apart if make) + 1e-6
    *_, last = stock_answers(study)
    assert f"All patterns: {hubs} hubs, " in text(last)


def test_amounts_have_two_figures() -> None:
    assert [about(value) for value in (0.2, -0.3, 4.4, 44.4, 449.0, 1361.0, -1361.0, 99.6)] == [
        "0", "0", "4", "44", "450", "1\u202f400", "-1\u202f400", "100",
    ]  # fmt: skip
    assert [engraved(um) for um in (0.0, 20.0, 35.0)] == ["0.00", "0.02", "0.035"]


def test_sets_as_good_are_named(demo_stock_d8: StockStudy, part: PatternStock) -> None:
    held = part.choice.chosen.undersizes_um
    looser, tighter = held[0] - 5.0, held[0] + 5.0
    sets = (
        (*held, 900.0), (*held, 900.0, 950.0), (*held, 900.0, 950.0, 980.0),
        (looser, *held[1:]), (tighter, *held[1:]), (*held[:-1], 900.0),
    )  # fmt: skip
    numbers = [number_word(len(held) + more) for more in (1, 3)]
    choice = dataclasses.replace(part.choice, as_good_um=sets)
    assert as_good_in_words(choice) == [
        f"{numbers[0]} to {numbers[1]} sizes",
        f"{engraved(looser)} or {engraved(tighter)} for {engraved(held[0])}",
        f"0.90 for {engraved(held[-1])}",
    ]
    assert f"As good, within 1 %: {numbers[0]} to {numbers[1]} sizes." in said(demo_stock_d8, choice=choice)
    assert "As good" not in said(demo_stock_d8, choice=dataclasses.replace(part.choice, as_good_um=()))
