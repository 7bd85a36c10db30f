"""Returns by quarter and reason, counted by hand."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.domain.quarters import parse_quarter
from wearstats.report.remarks.say import say
from wearstats.report.review.returns_answer import returns_answer
from wearstats.report.review.returns_sentences import returns_sentences
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.counts.remarks import ReturnsRemark
from wearstats.studies.counts.returns import returns_verdict, study_returns
from wearstats.studies.snapshot import Snapshot

AS_OF = datetime.date(2026, 12, 31)


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """Five hubs sent in three quarters, three of them back; one quarter in between saw nothing."""
    path = tmp_path / "returns.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        store.execute(
            "insert into intakes (intake, added_on, added_at, files, bulk) "
            "values (1, date '2026-12-01', timestamp '2026-12-01', 1, true)"
        )
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


def _verdict(
    back: int, *, expected: Estimate | None = None, returned: int = 9, sent: int = 40, over: bool = True
) -> str:
    quarter = parse_quarter("2026Q3")
    return say(returns_verdict(sent=sent, returned=returned, quarter=quarter, back=back, expected=expected, over=over))


def test_the_verdict_at_its_edges() -> None:
    eight = Estimate(value=8.2, low=3.0, high=14.0, level=0.95, method=remark(ReturnsRemark.AT_THE_RATE_BEFORE))
    assert _verdict(9, expected=eight) == "Quiet in 2026Q3: 9 came back, 8 expected (3 to 14)"
    for back, word in ((3, "Quiet"), (14, "Quiet"), (15, "Watch"), (2, "Watch"), (0, "Watch")):
        assert _verdict(back, expected=eight).startswith(f"{word} in 2026Q3: ")
    assert _verdict(0, expected=eight).startswith("Watch in 2026Q3: none came back")
    # what is missing of a quarter that runs may still come
    assert _verdict(1, expected=eight, over=False).startswith("Quiet in 2026Q3, so far: 1 came back")
    assert _verdict(9) == "9 came back in 2026Q3, nothing before to compare with"
    assert _verdict(0, returned=0) == "Nothing: none of 40 sent has come back"
    nothing = returns_verdict(sent=0, returned=0, quarter=None, back=0, expected=None, over=True)
    assert say(nothing) == "No hub was sent and none came back"
    assert all(
        len(_verdict(back, expected=eight, over=over).split()) <= 15 for back in (0, 99) for over in (True, False)
    )


def test_the_last_quarter_is_judged_by_those_before(store_path: Path) -> None:
    with open_store(store_path) as store:
        study = study_returns(Snapshot(store=store, known_on=AS_OF))
        part = study_returns(Snapshot(store=store, known_on=datetime.date(2026, 2, 14)))
    assert study.expected is not None
    # three back in the three quarters before, and half a one more (Jeffreys)
    assert study.expected.value == pytest.approx(3.5 / 3)
    assert say(study.verdict) == "Quiet in 2026Q4: none came back, 1 expected (0 to 4)"
    assert part.expected is None
    lines = returns_answer(study).lines()
    assert lines[0] == "WHAT CAME BACK, AND WHY?  Quiet in 2026Q4: none came back, 1 expected (0 to 4)."
    assert any("would not go on" in line and line.split()[-3:] == ["0", "2", "2"] for line in lines)
