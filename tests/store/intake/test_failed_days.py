"""The day on which a hub came loose: taken where it can be so, refused with what it must lie between."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.store.intake.reports import IntakeReport


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "small.duckdb"), write=True) as opened:
        yield opened


def answers(store: Store, *rows: tuple[str, str, str | None]) -> IntakeReport:
    """Add what was heard of F2, fitted on 2026-03-25: day, state, day on which it came loose."""
    said = [
        {"fitting": "F2", "seen_on": day, "state": state, "prompted": "asked", "cause": None, "failed_on": failed_on}
        for day, state, failed_on in rows
    ]
    return given(store, "follow_ups", said)


def given(store: Store, table: str, rows: list[dict[str, str | None]]) -> IntakeReport:
    """Add rows of one table, whether or not they are taken."""
    return add_frames(store, {table: pd.DataFrame(rows, dtype=object)}, added_on=LATE)


def test_the_day_is_kept_and_exported(store: Store) -> None:
    report = answers(store, ("2026-06-01", "tight", None), ("2026-09-01", "loose", "2026-08-20"))
    assert report.files[0].accepted == 2
    held = store.rows("select failed_on::varchar from follow_ups where fitting = 'F2' order by seen_on")
    assert held == [(None,), ("2026-08-20",)]
    assert [found.check for found in run_checks(store, as_of=LATE)] == []


@pytest.mark.parametrize(
    ("rows", "found", "allowed"),
    [
        ([("2026-09-01", "loose", "2026-09-02")], "2026-09-02 is after the report", "a day up to 2026-09-01"),
        (
            [("2026-09-01", "loose", "2026-03-24")],
            "2026-03-24 is before the hub was fitted",
            "a day from 2026-03-25 to 2026-09-01",
        ),
        (
            [("2026-06-01", "tight", None), ("2026-09-01", "broken", "2026-05-31")],
            "2026-05-31 is before the hub was last seen tight",
            "a day from 2026-06-01 to 2026-09-01",
        ),
        ([("2026-09-01", "tight", "2026-08-01")], "said of a hub that is tight", "only with loose, broken, removed"),
    ],
)
def test_a_day_that_cannot_be_is_refused(
    store: Store, rows: list[tuple[str, str, str | None]], found: str, allowed: str
) -> None:
    report = answers(store, *rows)
    assert report.files[0].rejected == 1
    (problem,) = report.files[0].problems
    assert "failed_on" in problem
    assert f"{found}; {allowed}; correct one of the days, or leave this one blank if nobody knows it" in problem
    assert store.value("select count(*) from rejects where column_name = 'failed_on'") == 1


def test_tight_in_an_earlier_file_counts_too(store: Store) -> None:
    answers(store, ("2026-06-01", "tight", None))
    assert answers(store, ("2026-09-01", "loose", "2026-05-31")).files[0].rejected == 1
    assert answers(store, ("2026-09-01", "loose", "2026-06-01")).files[0].accepted == 1


@pytest.mark.parametrize(("failed_on", "taken"), [("2026-03-24", 0), ("2026-04-02", 1), ("2026-05-03", 0)])
def test_of_a_hub_sent_back_without_its_fitting(store: Store, failed_on: str, taken: int) -> None:
    row: dict[str, str | None] = {
        "hub": "H2",
        "returned_on": "2026-05-02",
        "reason": "worked-loose",
        "failed_on": failed_on,
    }
    assert given(store, "returns", [row]).files[0].accepted == taken


def test_tight_heard_of_later_than_the_day_is_found_by_the_check(store: Store) -> None:
    answers(store, ("2026-09-01", "loose", "2026-05-20"))
    answers(store, ("2026-06-01", "tight", None))
    found = [(each.check, each.place, each.found) for each in run_checks(store, as_of=LATE)]
    assert found == [("failed_before_tight", "fitting F2", "came loose on 2026-05-20, but seen tight on 2026-06-01")]
