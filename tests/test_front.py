"""The front door for Python: every question asked, and answers that show themselves."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import wearstats
from wearstats.cli.output import plain
from wearstats.front import Shop

TOP = Path(__file__).resolve().parents[1]
DAY = "2026-09-30"


@pytest.fixture(scope="module")
def shop(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with wearstats.open_store(shutil.copy(demo_file, tmp_path_factory.mktemp("front") / "s.duckdb"), as_of=DAY) as shop:
        yield shop


@pytest.mark.parametrize(
    "question", ["wear", "gauging", "loosening", "methods", "review", "calls", "contact", "returns", "shaft"]
)
def test_every_answer_shows_itself(shop: Shop, question: str) -> None:
    answer = shop.shaft("S0206") if question == "shaft" else getattr(shop, question)()
    assert answer.sentences()
    short = repr(answer)
    assert short.startswith(f"{question}, as known on {DAY}")
    assert len(short) < 3000
    assert len(answer.frame()) > 0
    for name in answer.frames:
        assert list(answer.frame(name).columns) == list(answer.frame(name).columns)
    for name in answer.charts:
        assert answer.chart(name).to_dict()["$schema"]
    html = answer._repr_html_()
    assert ("<svg" in html) == bool(answer.charts)
    assert "<table" in html
    json.dumps(plain(answer.to_dict()), allow_nan=False)


def test_what_it_says_is_what_the_command_says(shop: Shop) -> None:
    from typer.testing import CliRunner

    from wearstats.cli.main import app

    asked = ["--store", str(shop.snapshot.store.path), "--as-of", DAY, "--json", "wear"]
    document = json.loads(CliRunner().invoke(app, asked).stdout)
    assert {key: document[key] for key in shop.wear().to_dict()} == plain(shop.wear().to_dict())


def test_a_name_that_is_not_there_is_told_with_those_that_are(shop: Shop) -> None:
    with pytest.raises(wearstats.UsageError, match=r"frame: 'fleat'; allowed: 'fleet', 'shares', 'laws', 'sizes'"):
        shop.wear().frame("fleat")
    with pytest.raises(wearstats.UsageError, match="chart: None; allowed: none, this answer has no such"):
        shop.calls().chart()


def test_bad_days_and_patterns_are_refused(demo_file: Path, tmp_path: Path) -> None:
    path = shutil.copy(demo_file, tmp_path / "s.duckdb")
    with pytest.raises(wearstats.UsageError, match="as_of: '30/09/2026'; allowed: a day as 2026-09-30"):
        wearstats.open_store(path, as_of="30/09/2026")
    with pytest.raises(wearstats.UsageError, match="pattern: 'D9' was not known on 2026-09-30; allowed: D10, D8"):
        wearstats.open_store(path, as_of=DAY, pattern="D9")
    with pytest.raises(wearstats.StoreError, match="there is no store here"):
        wearstats.open_store(tmp_path / "none.duckdb")


def test_the_public_names_are_read_when_they_are_used() -> None:
    code = "import sys, wearstats; assert not {'numpy', 'pandas', 'duckdb'} & set(sys.modules); print(*dir(wearstats))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == sorted(wearstats.__all__)
    assert all(hasattr(wearstats, name) for name in wearstats.__all__)
    with pytest.raises(AttributeError, match="no attribute 'open_shop'"):
        wearstats.open_shop  # noqa: B018


def test_the_notebook_runs(demo_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "wearstats-demo").mkdir()
    shutil.copy(demo_file, tmp_path / "wearstats-demo" / "demo.duckdb")
    monkeypatch.chdir(tmp_path)
    cells = json.loads((TOP / "reports" / "answers.ipynb").read_text(encoding="utf-8"))["cells"]
    names: dict[str, object] = {}
    for cell in cells:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            *lines, last = "".join(cell["source"]).splitlines()
            exec("\n".join(lines), names)
            shown = eval(last, names)
            assert repr(shown)
