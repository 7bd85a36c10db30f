"""A name put right: one row set under one name, old files still counted once, and all of it taken back whole."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import contents, make_store
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.taking_back.rename import merge, rename
from wearstats.store.taking_back.undo import undo

ADDED = datetime.date(2026, 6, 1)
TAKEN = datetime.date(2026, 7, 1)
SHEET = "\n".join(
    [
        "readings",
        "shaft: S-1",
        "pattern: D8",
        "measured_on: 2026-05-02",
        "measured_by: jan",
        "measured_at: home",
        "kind: caliper",
        "resolution: 0.01",
        "unit: mm",
        "spline,middle",
        "1,5.97",
        "2,5.96",
        "",
    ]
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def test_a_renamed_shaft_has_all_its_rows(store: Store) -> None:
    before = contents(store)
    report = rename(store, "shafts", "S1", "carr 1", on=TAKEN, because="as its owner calls it")
    assert report.out == report.back == {"shafts": 1, "inspections": 2, "dispatches": 1, "fittings": 2}
    for table in ("shafts", "inspections", "dispatches", "fittings"):
        assert {name for (name,) in store.rows(f"select distinct shaft from {table}")} == {"carr 1"}, table
    early = {"on": TAKEN - datetime.timedelta(days=1)}
    assert store.rows("select distinct shaft from known_fittings($on)", early) == [("S1",)]
    undo(store, report.intake, on=TAKEN)
    assert contents(store) == before
    assert store.value("select count(*) from aliases where ended_by is null") == 0


def test_a_file_under_the_old_name_counts_once(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    merge(store, "shaft", "S-1", "S1", on=TAKEN)
    report = add_files(store, [], text=SHEET, added_on=TAKEN)
    assert [(file.table, file.accepted, file.duplicate) for file in report.files] == [
        ("gauges", 0, 1),
        ("shafts", 0, 1),
        ("inspections", 0, 1),
        ("readings", 0, 2),
    ]
    assert any("shaft: 'S-1' stands for S1 since intake 3" in note for note in report.notes)
    # and so does the same sheet under the new name
    again = add_files(store, [], text=SHEET.replace("S-1", "S1"), added_on=TAKEN)
    assert [(file.accepted, file.duplicate) for file in again.files] == [(0, 1), (0, 1), (0, 1), (0, 2)]


def test_two_measurers_of_one_gauge_are_one(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    add_files(store, [], text=SHEET.replace("jan", "Jan D").replace("05-02", "05-09"), added_on=ADDED)
    before = contents(store)
    report = merge(store, "measurers", "jan", "Jan D", on=TAKEN)
    assert store.rows("select distinct measured_by, gauge from inspections where shaft = 'S-1'") == [
        ("Jan D", "Jan D caliper 0.01 mm")
    ]
    assert store.value("select count(*) from gauges") == 2
    again = add_files(store, [], text=SHEET, added_on=TAKEN)
    assert sum(file.accepted for file in again.files) == 0
    undo(store, report.intake, on=TAKEN)
    assert contents(store) == before


def test_what_the_one_that_stays_does_not_say_is_filled_in(store: Store) -> None:
    text = "shafts\nshaft,pattern,region,duty\nS-1,D8,upland,daily\n"
    add_files(store, [], text=text, added_on=ADDED)
    report = merge(store, "shafts", "S-1", "S1", on=TAKEN)
    assert store.rows("select shaft, region, duty, intake from shafts") == [("S1", "carr", "daily", report.intake)]
    undo(store, report.intake, on=TAKEN)
    assert store.rows("select shaft, region, duty from shafts order by 1") == [
        ("S-1", "upland", "daily"),
        ("S1", "carr", None),
    ]


def test_a_name_goes_on_to_the_last_of_a_chain_and_back(store: Store) -> None:
    rename(store, "hubs", "H1", "H1a", on=TAKEN)
    rename(store, "hubs", "H1a", "H1b", on=TAKEN)
    report = add_files(store, [], text="returns\nhub,returned_on,reason\nH1,2026-03-30,worked-loose\n", added_on=TAKEN)
    assert report.files[0].duplicate == 1
    # a name may be taken on again by the one that had it
    rename(store, "hubs", "H1b", "H1", on=TAKEN)
    live = "select name, stands_for from aliases where ended_by is null order by 1"
    assert store.rows(live) == [("H1a", "H1"), ("H1b", "H1")]
    report = add_files(store, [], text="returns\nhub,returned_on,reason\nH1a,2026-03-30,worked-loose\n", added_on=TAKEN)
    assert report.files[0].duplicate == 1


def test_what_cannot_be_the_same_is_refused(store: Store) -> None:
    text = "shafts\nshaft,pattern\nS9,D10\n\nhubs\nhub,pattern,undersize_um\nH9,D8,75\n\n"
    text += "dispatches\nhub,sent_on,shaft\nH2,2026-01-10,S1\n"
    add_files(store, [], text=text, added_on=ADDED)
    before = contents(store, intakes=True)
    with pytest.raises(InputError, match=r"shaft S9: its pattern is D10, that of S1 is D8; .*--correct"):
        merge(store, "shafts", "S9", "S1", on=TAKEN)
    with pytest.raises(InputError, match=r"hub H9: its undersize_um is 75, that of H1 is 50"):
        merge(store, "hubs", "H9", "H1", on=TAKEN)
    with pytest.raises(InputError, match="dispatch 2026-01-10: H2 and H1 both have one of that key, with other values"):
        merge(store, "hubs", "H2", "H1", on=TAKEN)
    with pytest.raises(UsageError, match="there is hub H2 already; if both are the same one: wearstats store merge"):
        rename(store, "hubs", "H1", "H2", on=TAKEN)
    with pytest.raises(UsageError, match="'h1' is not on record; near it are: H1"):
        rename(store, "hubs", "h1", "H5", on=TAKEN)
    with pytest.raises(UsageError, match=r"KIND: 'gauges' cannot be named anew; allowed: shafts, hubs, measurers"):
        rename(store, "gauges", "G1", "G2", on=TAKEN)
    assert contents(store, intakes=True) == before


def test_advice_goes_by_the_name_that_its_shaft_has(store: Store) -> None:
    store.execute(
        'insert into advice (shaft, given_on, inspections, "do", version, intake) '
        "values ('S1', '2026-03-21', ['I2'], 'send', '0', 1)"
    )
    rename(store, "shafts", "S1", "carr 1", on=TAKEN)
    assert store.rows("select shaft from known_advice($on)", {"on": TAKEN}) == [("carr 1",)]
    assert store.rows("select shaft from known_advice($on)", {"on": ADDED}) == [("S1",)]
