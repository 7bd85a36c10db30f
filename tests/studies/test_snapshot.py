"""A snapshot gives one answer to one question, whatever was asked before it, in whichever process, of which view."""

from __future__ import annotations

import datetime
import functools
import math
import pickle
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, get_args

import pytest

import wearstats.second_process
from tests.conftest import asked_once
from tests.store.support.small_store import LOADED_ON, make_store
from wearstats.errors import AnalysisError, UsageError
from wearstats.report.remarks.document import plain
from wearstats.second_process import second_process
from wearstats.store.database.connection import open_store
from wearstats.studies.counts.all_hubs import fittings_on_record
from wearstats.studies.counts.returns import study_returns
from wearstats.studies.demo import demo_as_of
from wearstats.studies.gaps.contact import study_contact_seen
from wearstats.studies.gauging.study import study_gauging
from wearstats.studies.loosening.study import study_loosening
from wearstats.studies.methods.study import study_methods
from wearstats.studies.overview import shaft_to_show, study_picture
from wearstats.studies.review.calls import study_calls
from wearstats.studies.review.study import study_review
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import EVERYTHING, Asked, Snapshot, part
from wearstats.studies.stock.study import study_stock
from wearstats.studies.wear.study import study_wear

EARLIER: Final = LOADED_ON - datetime.timedelta(days=1)
OTHERS: Final[dict[Asked, Callable[[Snapshot], Snapshot]]] = {
    "known_on": lambda snapshot: snapshot.at(EARLIER),
    "models_from": lambda snapshot: replace(snapshot, models_from=EARLIER),
    "pattern": lambda snapshot: snapshot.of("D8"),
    "seed": lambda snapshot: replace(snapshot, seed=snapshot.seed + 1),
}
AHEAD: Final[dict[str, Any]] = {"horizon_months": 12.0}
LIMITED: Final[dict[str, Any]] = AHEAD | {"risk_limit": 0.05}
QUESTIONS: Final[dict[str, Callable[[Snapshot], Any]]] = {
    "loosening": lambda snapshot: study_loosening(snapshot, **LIMITED),
    "stock": lambda snapshot: study_stock(snapshot, **AHEAD),
    "review": lambda snapshot: study_review(snapshot, **LIMITED),
    "methods": lambda snapshot: study_methods(snapshot, **AHEAD),
    "contact": study_contact_seen,
    "shaft": lambda snapshot: study_shaft(snapshot, shaft_to_show(snapshot) or "", **LIMITED),
    "returns": functools.partial(study_returns, trials=True),
    "calls": study_calls,
    "wear": study_wear,
    "gauging": study_gauging,
}
WITH_PATTERNS: Final = ("wear", "loosening", "methods", "stock")
PATTERNS: Final = ("D8", "D10")
NOT_OF_PARTS: Final = {"curves", "trust", "unworn_share"}
"""What is looked at for the whole alone; a pattern that is asked for by itself is the whole."""

worked_out: list[str] = []


@part(*EVERYTHING)
def shafts_on_record(snapshot: Snapshot, word: str = "") -> int:
    worked_out.append(word)
    return len(snapshot.store.rows("select shaft from shafts"))


@part(*EVERYTHING)
def refused(_: Snapshot, *, by_the_data: bool) -> int:
    worked_out.append("refused")
    raise AnalysisError("too few", needed="more") if by_the_data else UsageError("not so")


@pytest.fixture(autouse=True)
def _nothing_worked_out() -> None:
    worked_out.clear()


@pytest.fixture
def snapshot(tmp_path: Path) -> Iterator[Snapshot]:
    with open_store(make_store(tmp_path / "small.duckdb")) as store:
        yield Snapshot(store=store, known_on=LOADED_ON)


def test_a_part_is_worked_out_once_for_the_same_arguments(snapshot: Snapshot) -> None:
    assert [shafts_on_record(view, word) for view in (snapshot, replace(snapshot)) for word in "aba"] == [1] * 6
    assert worked_out == ["a", "b"]


def test_that_the_data_cannot_answer_is_remembered_and_other_errors_are_not(snapshot: Snapshot) -> None:
    for _ in range(3):
        with pytest.raises(AnalysisError, match="too few; more"):
            refused(snapshot, by_the_data=True)
    assert len(worked_out) == 1
    for _ in range(3):
        with pytest.raises(UsageError, match="not so"):
            refused(snapshot, by_the_data=False)
    assert len(worked_out) == 1 + 3


@pytest.mark.parametrize("by", get_args(Asked))
def test_another_day_pattern_or_seed_is_another_part_where_it_depends_on_that(snapshot: Snapshot, by: Asked) -> None:
    seen: list[Snapshot] = []

    @part(by)
    def own(asked: Snapshot) -> None:
        seen.append(asked)

    own(snapshot)
    for name, other in OTHERS.items():
        asked = other(snapshot)
        assert own.is_there(asked) == (name != by)
        own(asked)
        own(asked)
    assert [getattr(asked, by) for asked in seen] == [getattr(one, by) for one in (snapshot, OTHERS[by](snapshot))]


def test_another_day_keeps_the_models_unless_said_otherwise(snapshot: Snapshot) -> None:
    assert snapshot.models_from == snapshot.known_on == LOADED_ON
    then = snapshot.at(EARLIER)
    assert (then.known_on, then.models_from) == (EARLIER, LOADED_ON)
    assert then.at(LOADED_ON, models_from=EARLIER).at(LOADED_ON).models_from == EARLIER
    assert (then.of("D8").pattern, then.of("D8").of(None).pattern) == ("D8", None)


def test_a_part_let_go_is_worked_out_again(snapshot: Snapshot) -> None:
    assert not shafts_on_record.is_there(snapshot)
    shafts_on_record(snapshot)
    assert shafts_on_record.is_there(snapshot)
    shafts_on_record.release(snapshot)
    assert not shafts_on_record.is_there(snapshot)
    shafts_on_record(snapshot)
    assert len(worked_out) == 2
    shafts_on_record.release(snapshot.of("D8"))
    assert shafts_on_record.is_there(snapshot)


def test_a_part_begun_is_there_and_worked_out_once(snapshot: Snapshot) -> None:
    shafts_on_record.begin(snapshot)
    assert shafts_on_record.is_there(snapshot)
    shafts_on_record.begin(snapshot)
    assert [shafts_on_record(snapshot), shafts_on_record(snapshot)] == [1, 1]
    assert len(worked_out) == 1


def test_a_part_that_goes_along_is_not_worked_out_there(snapshot: Snapshot) -> None:
    assert shafts_on_record(snapshot, "") == 1
    worked_out.clear()
    there = pickle.loads(pickle.dumps(replace(snapshot.carrying(shafts_on_record), seed=snapshot.seed)))
    assert shafts_on_record(there) == shafts_on_record(there, word="") == 1
    assert worked_out == []
    # what another seed gives did not come along
    shafts_on_record(replace(there, seed=99))
    assert worked_out == [""]


def test_a_snapshot_pickled_asks_the_same_store_and_keeps_its_own_parts(snapshot: Snapshot) -> None:
    asked = replace(snapshot.at(EARLIER).of("D8"), seed=7)
    here = shafts_on_record(asked)
    first, second = (pickle.loads(pickle.dumps(asked)) for _ in range(2))
    for name in ("known_on", "models_from", "pattern", "seed"):
        assert getattr(first, name) == getattr(asked, name)
    assert first.store.path == asked.store.path
    assert not first.store.write
    assert not shafts_on_record.is_there(first)
    assert shafts_on_record(first) == shafts_on_record(second) == here
    assert len(worked_out) == 2
    assert pickle.loads(pickle.dumps(fittings_on_record)) is fittings_on_record


def ask(snapshot: Snapshot, questions: Iterable[str]) -> dict[str, dict[str, Any]]:
    return {name: plain(QUESTIONS[name](snapshot)) for name in questions}


@pytest.fixture(scope="module")
def alone(run_folder: Path, small_demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Give all answers, asked in one process from the last to the first; then the whole picture and some views."""

    def work_out() -> dict[str, Any]:
        with open_store(shutil.copy(small_demo_file, tmp_path_factory.mktemp("alone"))) as store:
            snapshot = Snapshot(store=store, known_on=demo_as_of())
            answers = ask(snapshot, reversed(QUESTIONS))
            picture = plain(study_picture(snapshot, **LIMITED))
            views = {pattern: ask(snapshot.of(pattern), WITH_PATTERNS) for pattern in PATTERNS}
            return answers | {"picture": picture, "views": views}

    return asked_once(run_folder, "small-demo-alone", work_out)


@pytest.fixture(scope="module")
def in_turn(run_folder: Path, small_demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Give the whole picture of the same store, asked in two processes; then the answers that are not in it."""

    def work_out() -> dict[str, Any]:
        copy = shutil.copy(small_demo_file, tmp_path_factory.mktemp("in-turn"))
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(wearstats.second_process, "_cores", lambda: 2)
            with open_store(copy) as store, second_process() as second:
                snapshot = Snapshot(store=store, known_on=demo_as_of(), second=second)
                picture: dict[str, Any] = plain(study_picture(snapshot, **LIMITED))
                return picture | ask(snapshot, QUESTIONS.keys() - picture.keys()) | {"picture": picture}

    return asked_once(run_folder, "small-demo-in-turn", work_out)


@pytest.mark.parametrize("question", QUESTIONS)
def test_an_answer_is_the_same_whatever_was_asked_before(
    alone: dict[str, Any], in_turn: dict[str, Any], question: str
) -> None:
    assert alone[question] == in_turn[question]


def test_one_process_draws_the_picture_that_two_draw(alone: dict[str, Any], in_turn: dict[str, Any]) -> None:
    assert alone["picture"]["unanswered"] == {}
    assert alone["picture"] == in_turn["picture"]


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("question", WITH_PATTERNS)
def test_a_pattern_among_others_is_the_view_of_it(alone: dict[str, Any], question: str, pattern: str) -> None:
    among, view = alone[question]["by_pattern"][pattern], dict(alone["views"][pattern][question])
    # how late failures are reported is told of what was asked for as a whole
    view |= {"report_delay": None} if "report_delay" in view else {}
    assert len(among.keys() & view.keys()) >= 3
    if question == "wear":
        assert among == view["by_pattern"][pattern]
    # where the share of the unworn is told, the law of wear is sought from two starts, which end a hair apart
    assert list(differing(among, view, rel=1e-5 if question == "wear" else 0.0)) == []


def differing(among: Any, view: Any, *, rel: float, place: str = "") -> Iterator[str]:
    """Name the places at which two documents differ, of those that both have."""
    if isinstance(among, dict) and isinstance(view, dict):
        for name in (among.keys() & view.keys()) - NOT_OF_PARTS:
            yield from differing(among[name], view[name], rel=rel, place=f"{place}/{name}")
    elif isinstance(among, float) and isinstance(view, float):
        # small quantiles of wear lie near 0, where a hair is a large share of them
        if not math.isclose(among, view, rel_tol=rel, abs_tol=10 * rel):
            yield f"{place}: {among!r} and {view!r}"
    elif among != view:
        yield f"{place}: {among} and {view}"
