"""Advice is kept once, and not at all where the store may not be written to; it is known from its day on."""

import datetime
import os
from dataclasses import replace
from pathlib import Path

import pytest

from wearstats.store.advice import GivenAdvice, keep_advice
from wearstats.store.database.connection import create_store, open_store

DAY = datetime.date(2026, 3, 3)
ADVICE = GivenAdvice(
    shaft="S'1; drop table advice", given_on=DAY, inspections=("I1", "I2"), do="send", undersize_um=50.0,
    method="owner-fitted", risk=0.03, version="1.0",
)  # fmt: skip
REFUSAL = replace(ADVICE, do="measure-again", undersize_um=None, method=None, risk=None)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    create_store(tmp_path / "s.duckdb")
    return tmp_path / "s.duckdb"


def kept(path: Path, as_of: datetime.date = DAY) -> list[tuple[object, ...]]:
    with open_store(path) as store:
        return store.rows('select shaft, "do", inspections, undersize_um from known_advice($as_of)', {"as_of": as_of})


def test_it_is_kept_once(path: Path) -> None:
    assert keep_advice(path, [ADVICE, REFUSAL]) == ""
    assert keep_advice(path, [ADVICE, REFUSAL]) == ""
    assert sorted(str(row[1]) for row in kept(path)) == ["measure-again", "send"]
    assert kept(path)[0][2] == ["I1", "I2"]


def test_other_readings_or_another_day_are_other_advice(path: Path) -> None:
    others = [replace(ADVICE, inspections=("I3",)), replace(ADVICE, given_on=DAY + datetime.timedelta(days=1))]
    keep_advice(path, [ADVICE, *others])
    assert len(kept(path)) == 2
    assert len(kept(path, DAY + datetime.timedelta(days=1))) == 3


def test_where_another_holds_the_store_it_is_said_and_nothing_breaks(path: Path) -> None:
    with open_store(path) as _:
        refused = keep_advice(path, [ADVICE])
    # the same process may not open it twice in two ways either
    assert "s.duckdb" in refused
    assert kept(path) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_store_that_may_not_be_written_is_left_alone(path: Path) -> None:
    path.chmod(0o444)
    assert keep_advice(path, [ADVICE]) != ""
    path.chmod(0o644)
    assert kept(path) == []
