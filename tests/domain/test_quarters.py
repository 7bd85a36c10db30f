"""Quarters: read as people write them, first and last day, one after another."""

import datetime

import pytest

from wearstats.domain.quarters import Quarter, parse_quarter
from wearstats.errors import UsageError


@pytest.mark.parametrize("text", ["2026Q3", "2026q3", " 2026-Q3 ", "2026 q3", "2026/Q3"])
def test_read_however_it_is_written(text: str) -> None:
    assert parse_quarter(text) == Quarter(year=2026, number=3)


@pytest.mark.parametrize("text", ["2026Q5", "2026", "Q3", "3/2026", "0000Q1", "last", "2026Q3; drop table fittings"])
def test_anything_else_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(UsageError, match="2026Q3"):
        parse_quarter(text)


def test_first_and_last_day() -> None:
    quarter = Quarter(year=2024, number=1)
    assert (quarter.first_day, quarter.last_day) == (datetime.date(2024, 1, 1), datetime.date(2024, 3, 31))
    assert Quarter(year=2023, number=4).last_day == datetime.date(2023, 12, 31)


def test_every_day_lies_in_its_quarter() -> None:
    for days in range(0, 1500, 7):
        day = datetime.date(2023, 1, 1) + datetime.timedelta(days=days)
        quarter = Quarter.of(day)
        assert quarter.first_day <= day <= quarter.last_day
        assert quarter.shifted(1).first_day == quarter.last_day + datetime.timedelta(days=1)
        assert quarter.shifted(-9).shifted(9) == quarter


def test_order_is_by_time() -> None:
    assert Quarter(year=2025, number=4) < Quarter(year=2026, number=1)
    assert str(Quarter(year=2026, number=1).shifted(-1)) == "2025Q4"
