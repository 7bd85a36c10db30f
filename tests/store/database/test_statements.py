"""Every SQL file says what it is for, holds what it says, fits the store's tables, and is used."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

import wearstats
from wearstats.errors import StoreError
from wearstats.resources import resource
from wearstats.store.checks import AT_HAND, CHECKS
from wearstats.store.database.migrations import _MADE, known_migrations, known_views, migrate
from wearstats.store.database.statements import read_statement, statement, statement_paths

FOLDERS = ("queries", "checks", "intake", "views")
SINGLE = [path for folder in FOLDERS for path in sorted(resource(f"sql/{folder}").rglob("*.sql"))]
SCHEMA = sorted(resource("sql/schema").glob("*.sql"))


def _named(path: Path) -> str:
    return path.relative_to(resource("sql")).with_suffix("").as_posix()


@pytest.fixture(scope="module")
def empty() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as connection:
        migrate(connection)
        for name, macro in AT_HAND.items():
            connection.execute(f"create temp table {name} as select * from {macro}(current_date, null)")
        yield connection


@pytest.fixture(scope="module")
def python_text() -> str:
    package = Path(wearstats.__file__).parent
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(package.rglob("*.py")))


def test_all_folders_are_looked_at() -> None:
    assert {path.name for path in resource("sql").iterdir() if path.is_dir()} == {*FOLDERS, "schema"}
    assert {_named(path).partition("/")[0] for path in SINGLE} == set(FOLDERS)
    assert not [path for path in resource("sql").rglob("*") if path.is_file() and path.suffix != ".sql"]


@pytest.mark.parametrize("path", SINGLE, ids=_named)
def test_header_is_first_and_says_the_real_parameters(path: Path) -> None:
    said = read_statement(path, path.stem)
    assert said.sql.splitlines()[0].startswith("-- purpose: ")
    assert said.sql.splitlines()[1].startswith("-- params: ")
    statements = duckdb.connect().extract_statements(said.sql)
    assert len(statements) == 1
    assert statements[0].named_parameters == set(said.params)
    assert len(set(said.params)) == len(said.params)


@pytest.mark.parametrize("path", SINGLE, ids=_named)
def test_parameters_are_cast_where_they_are_used(path: Path) -> None:
    code = re.sub(r"--.*", "", path.read_text(encoding="utf-8"))
    assert re.findall(r"\$[a-z_]+(?!::|[a-z_])", code) == []


@pytest.mark.parametrize("path", SCHEMA, ids=_named)
def test_a_change_of_the_schema_says_what_it_brings(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("-- purpose: ")
    assert all(not part.named_parameters for part in duckdb.connect().extract_statements(text))
    assert re.fullmatch(r"[0-9]{4}_[a-z_]+", path.stem)


@pytest.mark.parametrize(
    "name", [f"{folder}/{name}" for folder in ("queries", "checks") for name in statement_paths(folder)]
)
def test_plans_on_an_empty_store_and_says_its_order(name: str, empty: duckdb.DuckDBPyConnection) -> None:
    folder, _, stem = name.partition("/")
    wanted = statement(stem, folder)
    plan = empty.execute(f"explain {wanted.sql}", dict.fromkeys(wanted.params) or None).fetchall()
    assert plan
    code = re.sub(r"--.*", "", wanted.sql).lower()
    assert "order by" in code
    # columns are named, so that a new one in a table does not turn up in an answer
    assert re.search(r"select\s+\*\s+from\s+\w+\s*;?\s*$", code) is None


@pytest.mark.parametrize("name", CHECKS)
def test_checks_give_the_columns_of_a_finding(name: str, empty: duckdb.DuckDBPyConnection) -> None:
    wanted = statement(name, "checks")
    found = empty.execute(wanted.sql, dict.fromkeys(wanted.params) or None)
    assert [column[0] for column in found.description or ()] == ["place", "found", "next_step", "intake"]
    assert found.fetchall() == []


@pytest.mark.parametrize("path", [path for path in SINGLE if not _named(path).startswith("views/")], ids=_named)
def test_is_used_by_the_program(path: Path, python_text: str) -> None:
    folder, _, name = _named(path).partition("/")
    assert f'"{path.stem if folder == "checks" else name}"' in python_text


@pytest.mark.parametrize("path", [path for path in SINGLE if _named(path).startswith("views/")], ids=_named)
def test_a_view_bears_the_name_of_its_file(path: Path, empty: duckdb.DuckDBPyConnection) -> None:
    made = "select function_name from duckdb_functions() where not internal union select view_name from duckdb_views()"
    # all that tell what was known of a table stand in one folder, which says the first part of their names
    name = f"known_{path.stem}" if path.parent.name == "known" else _MADE.findall(path.read_text(encoding="utf-8"))[0]
    assert path.stem in name
    assert (name,) in empty.execute(made).fetchall()


def test_every_change_and_view_is_read() -> None:
    assert [f"{change.number:04}_{change.name}" for change in known_migrations()] == [path.stem for path in SCHEMA]
    assert len(known_views()) == len([path for path in SINGLE if _named(path).startswith("views/")])


def test_the_checks_made_are_the_checks_there_are() -> None:
    assert sorted(CHECKS) == list(statement_paths("checks"))


def test_an_unknown_name_is_told_which_there_are() -> None:
    with pytest.raises(StoreError, match=r"no statement 'wear_map' in sql/checks; there are: .*orphans"):
        statement("wear_map", "checks")


def test_a_file_without_a_header_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bare.sql"
    path.write_text("-- purpose: nothing\nselect 1", encoding="utf-8")
    with pytest.raises(ValueError, match=r"bare\.sql: no '-- purpose:' or no '-- params:' line"):
        read_statement(path, path.stem)


@pytest.mark.parametrize(
    "path", [path for path in SINGLE if _named(path).startswith(("queries/", "checks/"))], ids=lambda path: path.stem
)
def test_the_size_of_a_hub_is_asked_of_one_place(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    # what `hubs` states is overtaken by a gauging by space and end: sql/views/gauged says which holds
    stated = re.findall(r"\bhubs?\.(?:space_width_mm|space_u_um)", text)
    assert not stated or re.search(r"known_(?:gauged|fitted)_hubs\(", text)
