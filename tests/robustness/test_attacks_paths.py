"""What a thing is called never leads out of the folder given to ``--out``, and neither does a link that lies there."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.report.forms.test_sheets_fitting import SHEET
from tests.report.support.made_page import made_page
from tests.robustness.hostile_names import KEPT, LONG, PATHS, UNPRINTABLE, make_named_store
from tests.store.support.small_store import PATTERN, make_store, small_rows
from wearstats.cli.main import app
from wearstats.errors import ReportError
from wearstats.report.forms.fitting import fitting_stem
from wearstats.report.page.files import PAGE_NAME, WantedFiles, write_report
from wearstats.report.rendering.write_files import file_stem, write_in
from wearstats.store.archive.export import export_folder, export_workbook
from wearstats.store.database.connection import open_store


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("made") / "bench.duckdb")


@pytest.fixture
def room(made: Path, tmp_path: Path) -> Path:
    """Give a folder whose folder is watched: nothing may turn up beside ``out``."""
    (tmp_path / "room").mkdir()
    shutil.copy(made, tmp_path / "room")
    return tmp_path / "room"


def _ran(room: Path, *arguments: str) -> int:
    return CliRunner().invoke(app, [*arguments, "--store", str(room / "bench.duckdb")]).exit_code


def _outside(room: Path) -> set[str]:
    inside = room / "out"
    return {
        str(file.relative_to(room.parent)) for file in room.parent.rglob("*") if inside not in (file, *file.parents)
    }


@pytest.mark.parametrize("name", [*KEPT, *UNPRINTABLE])
def test_a_file_is_named_by_plain_letters(name: str) -> None:
    stems = (file_stem("measuring", name, name), fitting_stem(replace(SHEET, shaft=name, hub=name)))
    for stem in stems:
        assert stem.replace("-", "").isalnum()
        assert stem.isascii()
        assert len(stem) <= 80
        assert Path(stem).name == stem


def test_forms_stay_in_their_folder(room: Path) -> None:
    before = _outside(room)
    for name in ("../../etc/passwd", "/etc/passwd", "..", LONG):
        assert _ran(room, "sheet", "measuring", "--shaft", name, "--out", str(room / "out"), "--force") == 0
    assert _outside(room) == before
    assert all(file.parent == room / "out" for file in (room / "out").rglob("*"))


def test_a_pattern_or_fitting_named_like_a_path_stays_too(tmp_path: Path) -> None:
    rows = small_rows()
    rows["patterns"] = [PATTERN | {"pattern": "../../D8"}]
    for table in ("shafts", "batches", "hubs"):
        rows[table] = [row | {"pattern": "../../D8"} for row in rows[table]]
    for table in ("fittings", "follow_ups", "returns"):
        rows[table] = [row | {"fitting": f"../{row['fitting']}"} for row in rows[table]]
    room = tmp_path / "room"
    room.mkdir()
    make_store(room / "bench.duckdb", rows)
    before = _outside(room)
    out = str(room / "out")
    assert _ran(room, "sheet", "measuring", "--out", out) == 0
    assert _ran(room, "sheet", "follow-up", "--fitting", "../F1", "--out", out) == 0
    assert _outside(room) == before
    assert sorted(file.name for file in (room / "out").iterdir()) == sorted(
        f"{stem}{ending}"
        for stem in ("measuring-D8", "follow-up-F1")
        for ending in (".xlsx", ".html", "-a4.html", "-letter.html")
    )


def test_exports_are_named_by_their_tables(tmp_path: Path) -> None:
    store = make_named_store(tmp_path / "named.duckdb", PATHS)
    with open_store(store) as opened:
        written = export_folder(opened, tmp_path / "out").rows
        export_workbook(opened, tmp_path / "book.xlsx")
    assert {file.name for file in (tmp_path / "out").iterdir()} == {f"{table}.csv" for table in written}
    assert {file.name for file in tmp_path.iterdir()} == {"named.duckdb", "out", "book.xlsx"}


@pytest.mark.parametrize("name", ["../x", "a/b", "/x", "..", ".", ""])
def test_no_bare_name_no_file(name: str, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    with pytest.raises((ReportError, OSError)):
        write_in(tmp_path / "out", name, b"x")
    assert [file.name for file in tmp_path.rglob("*")] == ["out"]


def test_a_link_that_lies_in_the_folder_is_not_followed(room: Path) -> None:
    out, elsewhere = room / "out", room / "elsewhere"
    out.mkdir()
    link = out / "measuring-D8.html"
    link.symlink_to(elsewhere)
    # a link that leads nowhere counts as there; with --force it is replaced
    assert _ran(room, "sheet", "measuring", "--out", str(out)) == 4
    assert _ran(room, "sheet", "measuring", "--out", str(out), "--force") == 0
    assert not link.is_symlink()
    (out / PAGE_NAME).symlink_to(elsewhere)
    assert _ran(room, "report", "--out", str(out)) == 4
    write_report(made_page(), out, WantedFiles())
    assert not (out / PAGE_NAME).is_symlink()
    assert not elsewhere.exists()
