"""Dates as ISO 8601 writes them; the others are refused with the meanings they could have."""

import datetime

import pytest

from wearstats.domain.dates import parse_date, parse_day_or_month
from wearstats.domain.typed import TypedValueError


@pytest.mark.parametrize("text", ["2026-03-04", " 2026-03-04 ", "2026-03-04T00:00:00", "2026-03-04 00:00"])
def test_iso_dates(text: str) -> None:
    assert parse_date(text) == datetime.date(2026, 3, 4)


@pytest.mark.parametrize("text", ["03/04/2026", "3.4.2026", "03-04-2026", "3/4/26"])
def test_day_or_month_first_is_refused_with_both_meanings(text: str) -> None:
    with pytest.raises(TypedValueError) as refused:
        parse_date(text)
    assert f"'{text}'" in refused.value.found
    assert "3 April 2026 (2026-04-03), day first" in refused.value.found
    assert "4 March 2026 (2026-03-04), month first" in refused.value.found
    assert "YYYY-MM-DD" in refused.value.allowed


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("31/02", "no year, and there is no such day"),
        ("29/02", "has no year;"),
        ("31/02/2026", "no such day"),
        ("2026-02-31", "February 2026 has 28 days"),
        ("2028-02-30", "February 2028 has 29 days"),
        ("2026-13-01", "no month 13"),
        ("2026-00-01", "no month 0"),
        ("0026-03-04", "in the year 26"),
        ("13/04/2026", "write 13 April 2026"),
        ("04/13/2026", "write 13 April 2026"),
        ("2026/3/4", r"if 4 March 2026 \(2026-03-04\) is meant"),
        ("20260304", "if 4 March 2026"),
        ("2026/2/31", "there is no such day"),
        ("2026-03-04T10:30", "no date"),
        ("4 March 2026", "no date"),
        ("45720", "no date"),
        ("", "nothing is written"),
    ],
)
def test_other_dates_are_refused(text: str, says: str) -> None:
    with pytest.raises(TypedValueError, match=says):
        parse_date(text)


def test_a_month_will_do_where_the_day_is_not_known() -> None:
    month = parse_day_or_month("2028-02")
    assert (month.first, month.last) == (datetime.date(2028, 2, 1), datetime.date(2028, 2, 29))
    assert not month.day_known
    day = parse_day_or_month("2026-03-04")
    assert day.day_known
    assert day.first == datetime.date(2026, 3, 4)
    with pytest.raises(TypedValueError, match="YYYY-MM where the day is not known"):
        parse_day_or_month("03/2026")
    with pytest.raises(TypedValueError, match="no date"):
        parse_date("2028-02")
