"""What review, calls and methods leave out is counted and named in each of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.studies.support.small_shops import no_prices
from wearstats.domain.quarters import parse_quarter
from wearstats.report.calls.left_out import left_out_line, left_out_sentences
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.counts.left_out import left_out
from wearstats.studies.demo import demo_as_of
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.review.calls import study_calls
from wearstats.studies.review.study import study_review
from wearstats.studies.snapshot import Snapshot

_WRONG = {
    "hubs": "hub,pattern,undersize_um\n" + "".join(f"X{number},P10,25\n" for number in range(1, 6)),
    "dispatches": "hub,sent_on,shaft\nX1,2026-01-20,S01\nX2,2026-01-20,S02\nX5,2026-01-21,S03\n",
    "fittings": "fitting,shaft,hub,fitted_on,method\nFX2,S02,X2,2026-01-10,as-supplied\nFX3,S04,X3,,as-supplied\n",
    "returns": "hub,returned_on,reason\nX1,2026-01-10,not-needed\nX4,2026-01-10,not-needed\n",
}


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    folder: Path = tmp_path_factory.mktemp("left-out")
    path = no_prices(folder / "s.duckdb", folder)
    files = []
    for name, text in _WRONG.items():
        files.append(folder / f"{name}.csv")
        files[-1].write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, files, added_on=demo_as_of())
    with open_store(path) as store:
        yield Snapshot(store=store, known_on=demo_as_of())


def test_it_is_counted_with_the_first_names(snapshot: Snapshot) -> None:
    found = left_out(snapshot)
    assert (sum(found.fittings.values()), found.returns) == (2, 2)
    (words,) = left_out_sentences(found)
    for name in ("FX2", "FX3", "X4", "X5"):
        assert name in words
    assert "2 returns of a hub that was neither sent nor fitted by then (X1, X4)" in words
    assert left_out_line(found) == ["Left out: 4 records that cannot be as written; --full names them."]


def test_every_question_about_hubs_tells_the_same(snapshot: Snapshot) -> None:
    answers = (study_calls(snapshot), study_review(snapshot, quarter=parse_quarter("2026Q1")))
    told = [plain(study)["left_out"] for study in answers]
    assert told[0] == told[1] == plain(left_out(snapshot))
    assert told[0]["returns_before_sent"] == 2


def test_the_comparison_of_methods_tells_it_too(demo: Snapshot, demo_methods: MethodsStudy) -> None:
    assert demo_methods.left_out == left_out(demo)
    assert demo_methods.left_out.sent > 0
