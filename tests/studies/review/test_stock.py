"""What to make stands in the review that is asked alone, as the question of stock says it; or why it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames, shelf_counted
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.report.review.sentences import review_sentences
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.inputs.width_fit import FittedWidths
from wearstats.studies.review.study import ReviewStudy, study_review
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock


@pytest.fixture(scope="module")
def stock(demo_store: Store) -> StockStudy:
    return study_stock(demo_store, as_of=demo_as_of(), draws=NamedDraws(1))


@pytest.fixture(scope="module")
def alone(demo_store: Store) -> ReviewStudy:
    return study_review(demo_store, as_of=demo_as_of(), draws=NamedDraws(1))


def made_of(stock: StockStudy, pattern: str) -> int:
    make = stock.by_pattern[pattern].make
    assert make is not None
    return sum(row.make for row in make.rows)


def test_asked_alone_it_says_what_the_question_of_stock_says(alone: ReviewStudy, stock: StockStudy) -> None:
    lines = {action.what.split(",")[0]: action.number for action in alone.actions if action.do == "make"}
    assert lines == {f"pattern {name}": made_of(stock, name) for name in stock.by_pattern}
    assert alone.make_not_told == {}


def test_asked_after_stock_it_is_the_same(
    alone: ReviewStudy, stock: StockStudy, demo_store: Store, demo_widths: FittedWidths
) -> None:
    after = study_review(demo_store, as_of=demo_as_of(), fitted=demo_widths, stock=stock, draws=NamedDraws(1))
    assert after.actions == alone.actions


def test_of_one_pattern_it_rests_on_the_shafts_of_all(
    demo_store: Store, stock: StockStudy, demo_stock_d8: StockStudy
) -> None:
    one = demo_stock_d8
    study = study_review(demo_store, as_of=demo_as_of(), pattern="D8", draws=NamedDraws(1))
    made = [action for action in study.actions if action.do == "make"]
    assert [action.number for action in made] == [made_of(one, "D8")]
    # and a pattern says the same alone and among others
    assert one.to_dict()["by_pattern"]["D8"] == stock.to_dict()["by_pattern"]["D8"]


def test_where_it_cannot_be_told_there_is_the_reason_and_no_line(tmp_path: Path) -> None:
    path = make_store(tmp_path / "small.duckdb", plain_frames() | shelf_counted("2025-12-20"))
    with open_store(path) as store:
        study = study_review(store, as_of=AS_OF, draws=NamedDraws(1))
        told = study_review(store, as_of=AS_OF, stock="the reason; what is needed", draws=NamedDraws(1))
    assert not any(action.do == "make" for action in study.actions)
    (reason,) = study.make_not_told.values()
    assert any(line.startswith("What to make cannot be told: ") and reason in line for line in review_sentences(study))
    assert study.to_dict()["make_not_told_because"] == study.make_not_told
    # what was asked already is not asked again
    assert told.make_not_told == {"": "the reason; what is needed"}
