"""Returns by quarter and reason, counted by hand."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

from wearstats.report.review.returns_sentences import returns_sentences
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.counts.returns import study_returns
from wearstats.studies.snapshot import Snapshot

AS_OF = datetime.date(2026, 12, 31)


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """Five hubs sent in three quarters, three of them back; one quarter in between saw nothing."""
    path = tmp_path / "returns.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        store.execute("insert into intakes values (1, date '2026-12-01', timestamp '2026-12-01', 1, true)")
        for number, (sent, back, reason) in enumerate(
            [
                ("2026-01-10", "2026-02-01", "would-not-go-on"),
                ("2026-02-11", "2026-03-31", "would-not-go-on"),
                ("2026-03-12", "2026-07-01", "worked-loose"),
                ("2026-08-13", None, None),
                ("2026-12-14", None, None),
            ]
        ):
            pattern = "D8" if number < 3 else "D10"
            store.execute(
                "insert into hubs (hub, pattern, undersize_um, intake) values ($hub, $pattern, 50, 1)",
                {"hub": f"H{number}", "pattern": pattern},
            )
            store.execute(
                "insert into dispatches (hub, sent_on, intake) values ($hub, $sent::date, 1)",
                {"hub": f"H{number}", "sent": sent},
            )
            if back is not None:
                store.execute(
                    "insert into returns (hub, returned_on, reason, intake) values ($hub, $back::date, $reason, 1)",
                    {"hub": f"H{number}", "back": back, "reason": reason},
                )
    return path


def test_counts_by_quarter_and_reason(store_path: Path) -> None:
    with open_store(store_path) as store:
        study = study_returns(Snapshot(store=store, known_on=AS_OF))
    assert study.quarters == ("2026Q1", "2026Q2", "2026Q3", "2026Q4")
    assert study.reasons == ("would-not-go-on", "worked-loose")
    np.testing.assert_array_equal(study.counts, [[2, 0], [0, 0], [0, 1], [0, 0]])
    np.testing.assert_array_equal(study.sent, [3, 0, 1, 1])
    assert study.to_dict()["returns"] == {"would-not-go-on": 2, "worked-loose": 1}
    assert study.to_frame()["returns"].sum() == 3
    assert returns_sentences(study) == [
        "From 2026Q1 to 2026Q4, 3 hubs came back, 60 in 100 sent.",
        "The commonest reasons: would not go on (2) and worked loose (1).",
    ]


def test_only_what_was_known_counts(store_path: Path) -> None:
    with open_store(store_path) as store:
        study = study_returns(Snapshot(store=store, known_on=datetime.date(2026, 3, 30)))
    assert study.quarters == ("2026Q1",)
    assert study.returned == 1


def test_one_pattern_only(store_path: Path) -> None:
    with open_store(store_path) as store:
        study = study_returns(Snapshot(store=store, known_on=AS_OF, pattern="D10"))
    assert study.returned == 0
    assert returns_sentences(study) == ["Of 2 hubs sent none has come back."]


def test_an_empty_store_gives_an_empty_answer(tmp_path: Path) -> None:
    create_store(tmp_path / "empty.duckdb")
    with open_store(tmp_path / "empty.duckdb") as store:
        study = study_returns(Snapshot(store=store, known_on=AS_OF))
    assert study.quarters == ()
    assert study.to_frame().empty
