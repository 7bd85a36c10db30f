import re
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from wearstats.domain.dates import parse_date, parse_day_or_month
from wearstats.domain.typed import PLAIN_NUMBER, TypedValueError, parse_number, parse_unit, text_of_number


@given(text=st.from_regex(PLAIN_NUMBER.removesuffix("$") + r"\Z"))
def test_plain_numbers_need_no_special_reading(text: str) -> None:
    # 12 digits is the most that is taken; SQL may read the shorter ones for itself
    if len(re.sub("[^0-9]", "", text.lstrip("+-0"))) <= 12:
        assert parse_number(text).value == Decimal(text)


@given(digits=st.integers(-(10**9), 10**9), decimals=st.integers(0, 6), mark=st.sampled_from([".", ","]))
def test_numbers_are_read_as_written(digits: int, decimals: int, mark: str) -> None:
    value = Decimal(digits).scaleb(-decimals)
    typed = parse_number(f"{value:f}".replace(".", mark), decimal_mark="," if mark == "," else ".")
    assert typed.value == value
    assert typed.decimals == decimals


@given(text=st.text(max_size=12) | st.text(alphabet="0123456789.,-+eE xn_'\u202f/", max_size=12))
def test_any_text_is_read_or_refused_with_a_reason(text: str) -> None:
    reasons = []
    for read in (parse_number, parse_date, parse_day_or_month, parse_unit):
        try:
            read(text)
        except TypedValueError as refused:
            reasons.append((refused.found, refused.allowed))
    assert all(found and allowed for found, allowed in reasons)


@given(value=st.decimals(min_value=-99999, max_value=99999, places=4))
def test_spreadsheet_numbers_come_back(value: Decimal) -> None:
    assert parse_number(text_of_number(float(value))).value == value


@given(day=st.dates(min_value=parse_date("1900-01-01"), max_value=parse_date("2199-12-31")))
def test_iso_dates_round_trip(day: object) -> None:
    assert parse_date(str(day)) == day
    month = parse_day_or_month(str(day)[:7])
    assert not month.day_known
    assert str(month.first) <= str(day) <= str(month.last)
