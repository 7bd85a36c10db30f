"""What was known on a day: events that had happened, of files added by then, as they stood before later corrections."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.store.support.small_store import LATE, add, inspection, make_store, readings_of
from wearstats.resources import resource
from wearstats.store.database.connection import Store, open_store

Row = dict[str, str | None]
APRIL, MAY, JUNE = (datetime.date(2026, month, 1) for month in (4, 5, 6))
DAY = datetime.timedelta(days=1)
VIEWS = [path.stem.removeprefix("known_") for path in sorted(resource("sql/views").glob("known_*.sql"))]
INSPECTED = "from known_inspection_moments($as_of::date) where inspection = 'I1' and spline = 1"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("loaded") / "small.duckdb")


@pytest.fixture
def path(loaded: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(loaded, tmp_path))


def _known(store: Store, what: str, columns: str, as_of: datetime.date) -> list[tuple[Any, ...]]:
    return store.rows(f"select {columns} from known_{what}($as_of::date) order by all", {"as_of": as_of})


@pytest.mark.parametrize("view", VIEWS)
def test_there_is_a_view_of_everything(view: str, path: Path) -> None:
    with open_store(path) as store:
        before = _known(store, view, "*", datetime.date(1900, 1, 1))
        after = _known(store, view, "*", LATE)
    assert len(before) <= len(after)


@pytest.mark.parametrize(
    ("what", "columns", "day", "row"),
    [
        ("inspections", "inspection", datetime.date(2026, 3, 20), ("I2",)),
        ("fittings", "fitting", datetime.date(2026, 3, 25), ("F2",)),
        ("follow_ups", "state", datetime.date(2026, 3, 18), ("loose",)),
        ("returns", "hub", datetime.date(2026, 3, 30), ("H1",)),
        ("dispatches", "hub", datetime.date(2026, 1, 10), ("H1",)),
        ("batches", "batch", datetime.date(2025, 12, 1), ("B1",)),
        ("hubs", "hub", datetime.date(2025, 12, 1), ("H1",)),
        ("readings", "inspection", datetime.date(2026, 3, 20), ("I2",)),
        ("inspection_moments", "inspection", datetime.date(2026, 3, 20), ("I2",)),
    ],
)
def test_a_first_load_counts_by_the_dates_of_its_events(
    path: Path, what: str, columns: str, day: datetime.date, row: tuple[str]
) -> None:
    # the load itself was on 2026-02-01: some of its events came before that day, some are dated later
    with open_store(path) as store:
        assert row not in _known(store, what, columns, day - DAY)
        assert row in _known(store, what, columns, day)


def test_what_is_added_later_counts_from_the_day_it_was_added(path: Path) -> None:
    follow_up: Row = {"fitting": "F2", "seen_on": "2026-04-10", "state": "tight"}
    with open_store(path, write=True) as store:
        report = add(store, {"follow_ups": [follow_up]}, added_on=MAY)
        assert not report.bulk
        before = _known(store, "follow_ups", "fitting, state", MAY - DAY)
        assert before == [("F1", "loose"), ("F1", "tight")]
        assert _known(store, "follow_ups", "fitting, state", MAY) == [*before, ("F2", "tight")]


def test_what_is_added_before_it_happens_counts_from_its_own_day(path: Path) -> None:
    follow_up: Row = {"fitting": "F2", "seen_on": "2026-06-01", "state": "tight"}
    with open_store(path, write=True) as store:
        add(store, {"follow_ups": [follow_up]}, added_on=MAY)
        assert ("F2",) not in _known(store, "follow_ups", "fitting", JUNE - DAY)
        assert ("F2",) in _known(store, "follow_ups", "fitting", JUNE)


def test_before_a_correction_the_old_row_was_known(path: Path) -> None:
    corrected: Row = {"fitting": "F1", "seen_on": "2026-03-18", "state": "broken", "cause": "hub-cracked"}
    with open_store(path, write=True) as store:
        add(store, {"follow_ups": [corrected]}, added_on=MAY, correct=True)
        wanted = "seen_on::varchar, state, cause"
        tight = ("2026-02-20", "tight", None)
        assert _known(store, "follow_ups", wanted, MAY - DAY) == [tight, ("2026-03-18", "loose", "flanks")]
        assert _known(store, "follow_ups", wanted, MAY) == [tight, ("2026-03-18", "broken", "hub-cracked")]


@pytest.mark.parametrize(
    ("day", "cause"), [(APRIL, "flanks"), (MAY, "hub-cracked"), (JUNE - DAY, "hub-cracked"), (JUNE, "overload")]
)
def test_each_of_several_corrections_has_its_time(path: Path, day: datetime.date, cause: str) -> None:
    row: Row = {"fitting": "F1", "seen_on": "2026-03-18", "state": "loose"}
    with open_store(path, write=True) as store:
        add(store, {"follow_ups": [row | {"cause": "hub-cracked"}]}, added_on=MAY, correct=True)
        add(store, {"follow_ups": [row | {"cause": "overload"}]}, added_on=JUNE, correct=True)
        known = _known(store, "follow_ups", "cause", day)
    assert [found for (found,) in known if found] == [cause]


def test_a_corrected_reading_moves_the_sums_from_that_day_only(path: Path) -> None:
    corrected: Row = {"inspection": "I1", "spline": "1", "station": "middle", "width": "5.984"}
    sums = f"select sum_tenth_um, sumsq, n {INSPECTED}"
    with open_store(path, write=True) as store:
        add(store, {"readings": [corrected]}, added_on=MAY, correct=True)
        assert store.rows(sums, {"as_of": MAY - DAY}) == [(59_810, 59_810**2, 1)]
        assert store.rows(sums, {"as_of": MAY}) == [(59_840, 59_840**2, 1)]


def test_a_further_trial_counts_from_the_day_it_was_added(path: Path) -> None:
    further: Row = {"inspection": "I1", "spline": "1", "station": "middle", "trial": "2", "width": "5.985"}
    sums = f"select sum_tenth_um, n {INSPECTED}"
    with open_store(path, write=True) as store:
        add(store, {"readings": [further]}, added_on=MAY)
        assert store.rows(sums, {"as_of": MAY - DAY}) == [(59_810, 1)]
        assert store.rows(sums, {"as_of": MAY}) == [(59_810 + 59_850, 2)]


def test_the_kept_sums_are_those_of_the_readings_on_every_day(path: Path) -> None:
    further = readings_of("I1", ["5.98", "5.97"], station="shoulder") + readings_of("I3", ["5.90", "5.91", "5.92"])
    corrected: Row = {"inspection": "I2", "spline": "3", "station": "middle", "width": "5.960"}
    with open_store(path, write=True) as store:
        inspections = [inspection("I3", measured_on="2026-04-20")]
        add(store, {"inspections": inspections, "readings": further}, added_on=MAY)
        add(store, {"readings": [corrected]}, added_on=JUNE, correct=True)
        for day in (datetime.date(2026, 1, 31), APRIL, MAY - DAY, MAY, JUNE - DAY, JUNE, LATE):
            kept = _known(store, "inspection_moments", "inspection, spline, station, n, sum_tenth_um", day)
            summed = store.rows(
                "select inspection, spline, station, count(*), sum(width_tenth_um) from known_readings($as_of::date) "
                "group by all order by all",
                {"as_of": day},
            )
            assert kept == summed


def test_the_end_of_an_undersize_is_not_known_before_it_comes(path: Path) -> None:
    offered: Row = {"pattern": "D8", "undersize_um": "50", "from_on": "2026-01-01", "to_on": "2026-05-01"}
    with open_store(path, write=True) as store:
        add(store, {"undersizes_offered": [offered]}, added_on=APRIL)
        assert _known(store, "undersizes_offered", "to_on", MAY - DAY) == [(None,)]
        assert _known(store, "undersizes_offered", "to_on", MAY) == [(MAY,)]


def test_the_advice_given_by_a_day(path: Path) -> None:
    with open_store(path, write=True) as store:
        store.execute(
            'insert into advice (shaft, given_on, inspections, "do", undersize_um, method, risk, version) '
            "values ('S1', date '2026-05-01', ['I2'], 'send', 50, null, 0.04, '0.1.0')"
        )
        assert _known(store, "advice", "shaft", MAY - DAY) == []
        assert _known(store, "advice", "shaft", MAY) == [("S1",)]
