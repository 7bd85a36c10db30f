"""What is asked again is said again, to the byte, from what is kept; and at once, without any heavy library."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.studies.support.small_demo import make_small_demo
from wearstats.cli.main import app
from wearstats.store.cache.entries import cache_folder
from wearstats.store.database.connection import open_store
from wearstats.studies.demo import demo_as_of

HEAVY = {"pandas", "scipy", "sklearn", "statsmodels", "altair", "vl_convert", "jinja2", "openpyxl", "numpy"}
"""None of these is read for an answer that was given before: they take seconds."""

OFTEN = ("calls", "wear", "shaft")
"""Asked in every run; the others with the slow tests."""
QUESTIONS = (*OFTEN, "gauging", "loosening", "methods", "stock", "review", "contact", "limits")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "s.duckdb"
    make_small_demo(path, shafts=40)
    return path


def ask(store: Path, *asked: str, day: str | None = demo_as_of().isoformat()) -> Result:
    on = ["--as-of", day] if day else []
    return CliRunner().invoke(app, ["--store", str(store), *on, *asked])


def said(result: Result) -> tuple[int, str, str]:
    """Give the exit code, the answer, and the notes but for those of progress."""
    notes = "\n".join(line for line in result.stderr.splitlines() if not line.startswith("…"))
    return result.exit_code, result.stdout, notes


def entries(store: Path) -> set[str]:
    return {file.name for file in cache_folder(store).glob("*")}


@pytest.mark.parametrize(
    "question", [pytest.param(name, marks=[] if name in OFTEN else [pytest.mark.slow]) for name in QUESTIONS]
)
def test_an_answer_is_the_same_with_and_without_what_is_kept(store: Path, question: str) -> None:
    asked = [question, *(["S0001"] if question == "shaft" else []), "--json"]
    before = entries(store)
    anew = said(ask(store, *asked, "--no-cache"))
    assert entries(store) == before
    # rests on what other questions left, then is the document itself
    first, again = said(ask(store, *asked)), said(ask(store, *asked))
    assert first == anew
    assert again == anew
    # in words it rests on the answer's own parts
    in_words = [word for word in asked if word != "--json"]
    told = said(ask(store, *in_words))
    assert said(ask(store, *in_words)) == told
    assert told[0] == anew[0]
    assert said(ask(store, *in_words, "--no-cache")) == told


def test_an_answer_again_reads_no_heavy_library(store: Path) -> None:
    asked = ["wear", "--store", str(store), "--as-of", demo_as_of().isoformat()]
    first = CliRunner().invoke(app, asked).stdout
    code = (
        "import sys\n"
        "from wearstats.__main__ import main\n"
        f"sys.argv = ['wearstats', *{asked!r}]\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print(*sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout == first
    assert HEAVY.isdisjoint(ran.stderr.split())
    assert len(ran.stderr.split()) < 200


def test_why_there_is_no_answer_is_said_again(store: Path) -> None:
    asked = ["shaft", "nobody"]
    first = said(ask(store, *asked))
    before = entries(store)
    assert first[0] == 5
    assert said(ask(store, *asked)) == first
    assert entries(store) == before


def test_what_is_asked_otherwise_is_another_answer(store: Path) -> None:
    ask(store, "shaft", "S0002")
    for more in (["--pattern", "D8"], ["--full"], ["--json"], ["--risk-limit", "0.1"]):
        before = entries(store)
        assert ask(store, "shaft", "S0002", *more).exit_code == 0
        assert entries(store) > before


def test_what_is_added_changes_the_days_after_it_and_no_day_before(store: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(store, tmp_path / "s.duckdb"))
    early, late = "2026-09-30", "2026-10-31"
    for day in (early, late):
        assert ask(path, "calls", day=day).exit_code == 0
    before = entries(path)
    new = tmp_path / "shafts.csv"
    new.write_text("shaft,pattern,region\nNEW,D8,carr\n", encoding="utf-8")
    assert ask(path, "store", "add", str(new), day="2026-10-15").exit_code == 0
    assert ask(path, "calls", day=early).exit_code == 0
    assert entries(path) == before
    assert ask(path, "calls", day=late).exit_code == 0
    assert entries(path) > before


def test_advice_is_kept_in_the_store_when_the_answer_was_found(store: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(store, tmp_path / "s.duckdb"))
    first = said(ask(path, "shaft", "S0001", "S0002", day=None))
    assert first[0] == 0

    def advice() -> list[tuple[object, ...]]:
        with open_store(path) as opened:
            return opened.rows("select * from advice order by shaft")

    given = advice()
    assert len(given) == 2
    with open_store(path, write=True) as opened:
        opened.execute("delete from advice")
    before = entries(path)
    assert said(ask(path, "shaft", "S0001", "S0002", day=None)) == first
    assert entries(path) == before
    assert advice() == given
    # of another day it is not advice given
    with open_store(path, write=True) as opened:
        opened.execute("delete from advice")
    ask(path, "shaft", "S0001")
    ask(path, "shaft", "S0001")
    assert advice() == []


def test_files_are_written_every_time(store: Path, tmp_path: Path) -> None:
    file = tmp_path / "calls.csv"
    for _ in range(2):
        assert ask(store, "calls", "--export", str(file)).exit_code == 0
        assert file.read_text(encoding="utf-8")
        file.unlink()
    for _ in range(2):
        assert ask(store, "shaft", "S0001", "--out", str(tmp_path), "--force").exit_code == 0
        (tmp_path / "shaft-S0001.html").unlink()


def test_a_spoiled_folder_is_passed_over(store: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(store, tmp_path / "s.duckdb"))
    first = said(ask(path, "wear"))
    for spoiled in (b"{", json.dumps({"document": {"said": 1}, "sha256": ""}).encode()):
        for file in cache_folder(path).iterdir():
            file.write_bytes(spoiled)
        assert said(ask(path, "wear")) == first


def test_no_file_names_a_shaft_and_backups_leave_the_folder_out(store: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(store, tmp_path / "s.duckdb"))
    ask(path, "shaft", "S0001")
    assert all(len(name.partition(".")[0]) == 64 for name in entries(path))
    assert ask(path, "store", "backup", str(tmp_path / "copy.duckdb"), day=None).exit_code == 0
    assert ask(path, "store", "export", str(tmp_path / "export"), day=None).exit_code == 0
    assert not [*tmp_path.glob("copy*cache*")]
    assert not [*tmp_path.rglob("export/*.npz")]
