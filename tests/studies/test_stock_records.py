"""How many hubs are needed in a year, as records of any length have it."""

import datetime

import numpy as np
import pandas as pd
import pytest

from wearstats.errors import AnalysisError
from wearstats.store.connection import Store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.stock import study_stock
from wearstats.studies.stock_records import Needs, read_needs


def needed(days: pd.DatetimeIndex, *, as_of: str, until: str | None = None, fate: str = "sent") -> Needs:
    rows = pd.DataFrame({"needed_on": days, "undersize_um": 50.0, "fate": fate, "hubs": 1})
    end = datetime.date.fromisoformat(until or as_of)
    return Needs(as_of=datetime.date.fromisoformat(as_of), until=end, rows=rows)


def test_of_years_the_last_one_counts() -> None:
    weekly, daily = pd.date_range("2024-01-01", "2024-12-31", freq="7D"), pd.date_range("2025-01-01", "2025-12-31")
    number, words = needed(pd.DatetimeIndex([*weekly, *daily]), as_of="2025-12-31").a_year()
    assert number == 365
    assert words == "hubs needed in the last twelve months, lost sales and specials among them"


def test_a_shorter_record_is_put_to_a_year() -> None:
    number, words = needed(pd.date_range("2025-10-01", "2025-12-31"), as_of="2025-12-31").a_year()
    assert number == pytest.approx(365.25)
    assert "in the 3 months on record, put to a whole year" in words


def test_days_after_the_records_end_are_not_days_without_need() -> None:
    days = pd.date_range("2024-01-01", "2025-09-30")
    late = needed(days, as_of="2025-12-31", until="2025-09-30")
    assert late.a_year() == (365.0, late.a_year()[1])
    assert "twelve months up to 2025-09-30, where the records end" in late.a_year()[1]
    assert late.by_quarter()["quarter"].iloc[-1] == "2025Q3"


def test_with_none_in_the_last_year_all_years_count() -> None:
    number, words = needed(pd.date_range("2023-01-01", "2023-12-31"), as_of="2025-12-31").a_year()
    assert number == pytest.approx(365 / 3, rel=0.01)
    assert "in all 3.0 years on record, none in the last" in words


def test_open_orders_are_no_need_yet() -> None:
    assert needed(pd.date_range("2024-01-01", "2025-12-31"), as_of="2025-12-31", fate="open").a_year()[0] == 0.0


def test_nothing_needed_is_told() -> None:
    with pytest.raises(AnalysisError, match="no order is on record"):
        needed(pd.DatetimeIndex([]), as_of="2025-12-31").a_year()


def test_sizes_and_what_to_make_rest_on_the_same_need(demo_store: Store) -> None:
    later = datetime.date(2026, 12, 15)
    now, then = (read_needs(demo_store, day, "D8").a_year() for day in (demo_as_of(), later))
    assert now[0] == then[0]
    assert "where the records end" in then[1]


def test_from_a_few_weeks_of_orders_nothing_is_said_to_be_made(demo_store: Store) -> None:
    early = study_stock(demo_store, as_of=datetime.date(2023, 12, 31), pattern="D8", rng=np.random.default_rng(1))
    assert early.by_pattern["D8"].make is None
    assert "months of what was needed are on record" in early.by_pattern["D8"].why_no_make
