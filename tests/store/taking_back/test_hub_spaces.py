"""Gaugings are taken back, named anew and merged like all else; earlier days stay as they were answered."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import contents, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.taking_back.rename import rename
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import undo

ADDED = datetime.date(2026, 1, 15)
TAKEN = datetime.date(2026, 2, 15)
SHEET = "hub_spaces\nhub: H2\ngauged on: 2026-01-10\nspace;mouth;nut-face\n1;5.962;5.958\n2;5.963;5.957\n"
BATCHES = "hubs\nhub,pattern,undersize_um,batch\nH3,D8,50,B1\n"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        # counted as a later intake: what was loaded first is known since 2026-02-01 at the latest
        yield opened


def width(store: Store, on: datetime.date, hub: str = "H2") -> float | None:
    rows = store.rows("select space_width_mm from known_gauged_hubs($on) where hub = $hub", {"on": on, "hub": hub})
    return None if not rows or rows[0][0] is None else float(rows[0][0])


def test_an_undone_gauging_leaves_the_hub_as_it_was(store: Store) -> None:
    before = contents(store)
    intake = add_files(store, [], text=SHEET, added_on=datetime.date(2026, 2, 10)).intake
    assert width(store, datetime.date(2026, 2, 10)) == pytest.approx(5.96)
    report = undo(store, intake, on=TAKEN)
    assert report.out == {"hub_spaces": 4}
    assert contents(store) == before
    assert width(store, TAKEN) is None
    assert width(store, TAKEN - datetime.timedelta(days=1)) == pytest.approx(5.96)
    undo(store, report.intake, on=TAKEN)
    assert width(store, TAKEN) == pytest.approx(5.96)


def test_a_corrected_place_moves_the_mean_and_its_undo_moves_it_back(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=datetime.date(2026, 2, 10))
    mended = "hub_spaces\nhub,gauged_on,space,end,width_mm\nH2,2026-01-10,1,mouth,5.966\n"
    report = add_files(store, [], text=mended, added_on=datetime.date(2026, 2, 11), correct=True)
    assert report.kept_out == 0
    assert width(store, TAKEN) == pytest.approx(5.961)
    assert width(store, datetime.date(2026, 2, 10)) == pytest.approx(5.96)
    undo(store, report.intake, on=TAKEN)
    assert width(store, TAKEN) == pytest.approx(5.96)


def test_a_retracted_place_is_out_and_its_hub_is_not_taken_out_alone(store: Store) -> None:
    add_files(store, [], text=BATCHES, added_on=datetime.date(2026, 2, 9))
    add_files(store, [], text=SHEET.replace("H2", "H3"), added_on=datetime.date(2026, 2, 10))
    report = retract(store, "hub_spaces", ["H3", "2026-01-10", "1", "mouth"], on=TAKEN)
    assert report.out == {"hub_spaces": 1}
    assert width(store, TAKEN, "H3") == pytest.approx((5.958 + 5.963 + 5.957) / 3)
    # a gauging means nothing without its hub
    with pytest.raises(InputError, match="3 hub spaces rest on it"):
        retract(store, "hubs", ["H3"], on=TAKEN)
    assert retract(store, "hubs", ["H3"], on=TAKEN, with_all=True).out == {"hubs": 1, "hub_spaces": 3}


def test_the_spaces_go_along_with_a_hub_that_is_named_anew(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=datetime.date(2026, 2, 10))
    rename(store, "hubs", "H2", "H-2", on=TAKEN)
    assert width(store, TAKEN, "H-2") == pytest.approx(5.96)
    assert store.value("select count(*) from hub_spaces where hub = 'H-2'") == 4
