"""The part of a store that is about some shafts answers about them as the whole does, whatever the day."""

from __future__ import annotations

import datetime
import pickle
import shutil
from pathlib import Path

import pandas as pd
import pytest

from wearstats.errors import StoreError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.database.statements import statement, statement_paths
from wearstats.store.database.subset import part_of_shafts
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of
from wearstats.studies.snapshot import Snapshot

# what is on record of a shaft beside its hubs is asked of the whole store alone; what lay on the shelf hangs
# on all hubs
OF_SHAFTS = [
    name
    for name in statement_paths()
    if "shafts" in statement(name).params and not name.startswith("shaft/") and name != "fittings/sizes_then"
]
DAYS = [demo_as_of() - datetime.timedelta(days=back) for back in (0, 200, 700)]


def rows_of(store: Store, name: str, day: datetime.date, shafts: list[str]) -> pd.DataFrame:
    given = {"as_of": day, "shafts": shafts, "pattern": None}
    return store.query(name, **{param: given[param] for param in statement(name).params})


@pytest.fixture(scope="module")
def some_shafts(demo_store: Store) -> list[str]:
    return demo_store.query("fittings/shafts", as_of=demo_as_of(), pattern=None)["shaft"].head(90).tolist()


@pytest.fixture(scope="module")
def part(demo_store: Store, some_shafts: list[str]) -> Store:
    return part_of_shafts(demo_store, some_shafts)


def test_all_questions_about_some_shafts_are_tried() -> None:
    assert {"fittings/histories", "fittings/follow_ups", "fittings/choices", "widths/moments"} < set(OF_SHAFTS)
    assert all(set(statement(name).params) <= {"as_of", "shafts", "pattern"} for name in OF_SHAFTS)


@pytest.mark.parametrize("day", DAYS, ids=str)
@pytest.mark.parametrize("name", OF_SHAFTS)
def test_part_answers_as_the_whole(
    demo_store: Store, part: Store, some_shafts: list[str], name: str, day: datetime.date
) -> None:
    whole = rows_of(demo_store, name, day, some_shafts)
    pd.testing.assert_frame_equal(rows_of(part, name, day, some_shafts), whole)
    assert len(whole) or name == "wear/events"


def test_part_is_only_of_its_shafts(demo_store: Store, part: Store) -> None:
    count = "select count(*) from readings"
    assert 0 < part.value(count) < demo_store.value(count)
    assert demo_store.value("select current_database()") == "demo", "the whole still answers for itself"


def test_what_was_known_before_a_correction_is_in_the_part(
    demo_store: Store, some_shafts: list[str], tmp_path: Path
) -> None:
    path = tmp_path / "demo.duckdb"
    shutil.copy(demo_store.path, path)
    today, later = demo_as_of(), demo_as_of() + datetime.timedelta(days=30)
    asked = "select * exclude (intake, fitted_from, fitted_to, inspections) from fittings where shaft = $shaft limit 1"
    with open_store(path, write=True) as store:
        shaft = next(name for name in some_shafts if len(store.table(asked, {"shaft": name})))
        row = store.table(asked, {"shaft": shaft})
        method = "as-supplied" if row["method"][0] != "as-supplied" else "hand-fitted"
        row.assign(method=method).to_csv(tmp_path / "fittings.csv", index=False)
        report = add_files(store, [tmp_path / "fittings.csv"], added_on=later, correct=True)
        assert (report.kept_out, store.value("select count(*) from history_fittings")) == (0, 1)
    with open_store(path) as store:
        part = part_of_shafts(store, [shaft])
        told = [rows_of(part, "fittings/histories", day, [shaft]) for day in (today, later)]
        for day, rows in zip((today, later), told, strict=True):
            pd.testing.assert_frame_equal(rows, rows_of(store, "fittings/histories", day, [shaft]))
        assert not told[0].equals(told[1])


def test_no_other_process_can_have_the_part(part: Store) -> None:
    assert not part.write
    gone = pickle.dumps(Snapshot(store=part, known_on=demo_as_of()))
    with pytest.raises(StoreError, match="no store here"):
        pickle.loads(gone)
