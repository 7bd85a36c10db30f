"""A shaft is asked about by any name that it ever had."""

from __future__ import annotations

import datetime
from pathlib import Path

from tests.store.support.small_store import make_store
from wearstats.store.database.connection import open_store
from wearstats.store.taking_back.rename import rename
from wearstats.studies.shaft.study import names_in_use
from wearstats.studies.snapshot import Snapshot

RENAMED = datetime.date(2026, 7, 1)


def test_an_old_name_stands_for_the_new_from_its_day_on(tmp_path: Path) -> None:
    with open_store(make_store(tmp_path / "small.duckdb"), write=True) as store:
        rename(store, "shafts", "S1", "carr 1", on=RENAMED)
        rename(store, "shafts", "carr 1", "carr one", on=RENAMED)
        after = Snapshot(store=store, known_on=RENAMED)
        assert names_in_use(after, ["S1", "carr 1", "carr one", "S9"]) == ["carr one", "carr one", "carr one", "S9"]
        before = Snapshot(store=store, known_on=RENAMED - datetime.timedelta(days=1))
        assert names_in_use(before, ["S1"]) == ["S1"]
