"""What to make stands in the review that is asked alone, as the question of stock says it; or why it does not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames, shelf_counted
from wearstats.analysis.remark import refused
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.report.review.sentences import review_sentences
from wearstats.store.database.connection import open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.review.study import ReviewStudy, study_review
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock import study as stock_study
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock


def made_of(stock: StockStudy, pattern: str) -> int:
    make = stock.by_pattern[pattern].make
    assert make is not None
    return sum(row.make for row in make.rows)


def test_asked_alone_it_says_what_the_question_of_stock_says(demo_review: ReviewStudy, demo_stock: StockStudy) -> None:
    lines = {say(action.what).split(",")[0]: action.number for action in demo_review.actions if action.do == "make"}
    assert lines == {f"pattern {name}": made_of(demo_stock, name) for name in demo_stock.by_pattern}
    assert demo_review.make_not_told == {}


def test_asked_after_stock_it_is_the_same(small_demo_file: Path, tmp_path: Path) -> None:
    with open_store(shutil.copy(small_demo_file, tmp_path)) as store:
        before, after = (Snapshot(store=store, known_on=demo_as_of()) for _ in range(2))
        review_first, stock_last = study_review(before), study_stock(before)
        stock_first, review_last = study_stock(after), study_review(after)
    assert any(action.do == "make" for action in review_first.actions)
    assert review_first.actions == review_last.actions
    assert plain(stock_first) == plain(stock_last)


def test_of_one_pattern_it_rests_on_the_shafts_of_all(
    demo: Snapshot, demo_stock: StockStudy, demo_stock_d8: StockStudy
) -> None:
    study = study_review(demo.of("D8"))
    made = [action for action in study.actions if action.do == "make"]
    assert [action.number for action in made] == [made_of(demo_stock_d8, "D8")]
    # and a pattern says the same alone and among others
    assert plain(demo_stock_d8)["by_pattern"]["D8"] == plain(demo_stock)["by_pattern"]["D8"]


def test_where_it_cannot_be_told_there_is_the_reason_and_no_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_store(tmp_path / "small.duckdb", plain_frames() | shelf_counted("2025-12-20"))
    with open_store(path) as store:
        study = study_review(Snapshot(store=store, known_on=AS_OF))
        asked = Snapshot(store=store, known_on=AS_OF)
        with pytest.raises(AnalysisError) as found:
            study_stock(asked, horizon_months=12.0)
        monkeypatch.setattr(stock_study, "width_fit", lambda _: pytest.fail("asked again"))
        after = study_review(asked)
    assert not any(action.do == "make" for action in study.actions)
    (reason,) = study.make_not_told.values()
    lines = review_sentences(study)
    assert any(line.startswith("What to make is not known: ") and say(reason) in line for line in lines)
    assert plain(study)["make_not_told_because"][""] == say(reason)
    # what was asked already is not asked again
    assert study.make_not_told == after.make_not_told == {"": refused(found.value)}
