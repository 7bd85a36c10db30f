"""Once the store is open no statement reaches a file, the network or an extension, and no setting lets it."""

from __future__ import annotations

import shutil
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.errors import StoreError
from wearstats.store.archive.export import export_folder
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files

REACHES = (
    "select * from read_text('{secret}')",
    "select * from read_blob('{secret}')",
    "select * from read_csv('{secret}')",
    "select * from sniff_csv('{secret}')",
    "select * from read_parquet('{secret}')",
    "select * from read_json('{secret}')",
    "from '{secret}'",
    "from '{folder}/letter.csv'",
    "select * from glob('{folder}/*')",
    "attach '{folder}/other.duckdb'",
    "copy shafts to '{folder}/out.csv'",
    "copy shafts from '{folder}/letter.csv'",
    "export database '{folder}/out'",
    "import database '{folder}'",
    "from 'http://127.0.0.1:9/x.csv'",
    "from 's3://bucket/x.parquet'",
    "attach 'http://127.0.0.1:9/x.duckdb'",
    "install httpfs",
    "install '{folder}/x.duckdb_extension'",
    "load httpfs",
    "load '{folder}/x.duckdb_extension'",
    "create secret mine (type s3)",
    "set enable_external_access = true",
    "reset enable_external_access",
    "set allowed_paths = ['{secret}']",
    "set allowed_directories = ['/']",
    "set lock_configuration = false",
    "set autoload_known_extensions = true",
    "set temp_directory = '{folder}/temp'",
    "set extension_directory = '{folder}/ext'",
    "call enable_logging(storage = 'file', storage_path = '{folder}/log')",
    "pragma enable_profiling",
    "select getenv('HOME')",
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("sql") / "bench.duckdb")


@pytest.fixture
def room(made: Path, tmp_path: Path) -> Path:
    (tmp_path / "letter.csv").write_text("shaft,pattern\nsecret,D8\n", encoding="utf-8")
    shutil.copy(made, tmp_path)
    return tmp_path


@pytest.mark.parametrize("write", [False, True], ids=["reading", "writing"])
def test_no_statement_reaches_anything_outside(write: bool, room: Path) -> None:
    with open_store(room / "bench.duckdb", write=write) as store:
        before = sorted(room.iterdir())
        for sql in REACHES:
            with pytest.raises((duckdb.Error, StoreError)):
                store.rows(sql.format(folder=room, secret=room / "letter.csv"))
        assert sorted(room.iterdir()) == before
        # and it still answers
        assert store.value("select count(*) from shafts") == 1


def test_nothing_is_reached_after_files_were_let_in_and_out(room: Path) -> None:
    large = room / "shafts.csv"
    large.write_text("shaft,pattern\n" + "".join(f"S-{n},D8\n" for n in range(30_000)), encoding="utf-8")
    with open_store(room / "bench.duckdb", write=True) as store:
        add_files(store, [large], added_on=LATE)
        with pytest.raises(duckdb.Error):
            store.rows(f"from '{room / 'letter.csv'}'")
        export_folder(store, room / "out")
        for sql in REACHES:
            with pytest.raises((duckdb.Error, StoreError)):
                store.rows(sql.format(folder=room, secret=room / "letter.csv"))


@pytest.mark.parametrize("source", ["read_text", "read_csv"])
def test_a_store_from_elsewhere_reads_no_file_by_its_views(source: str, room: Path) -> None:
    with duckdb.connect(str(room / "bench.duckdb")) as connection:
        connection.execute("alter table shafts rename to other_shafts")
        column = "content" if source == "read_text" else "shaft"
        connection.execute(
            f"create view shafts as select {column} as shaft, 'D8' as pattern from {source}('{room / 'letter.csv'}')"
        )
    with open_store(room / "bench.duckdb") as store, pytest.raises(duckdb.PermissionException):
        store.rows("select * from shafts")


def test_objects_of_this_program_are_no_tables(room: Path) -> None:
    # a frame or a path that happens to be in scope must not be taken for a table
    letter = pd.DataFrame({"secret": [1]})
    assert len(letter) == 1
    with open_store(room / "bench.duckdb") as store, pytest.raises(duckdb.CatalogException):
        store.rows("select * from letter")
