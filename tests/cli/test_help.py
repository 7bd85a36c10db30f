"""Help is quick and complete: no heavy library is imported for it, and its pages are as they were."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wearstats.cli.main import app

HEAVY = {"pandas", "scipy", "sklearn", "statsmodels", "altair", "duckdb", "vl_convert", "jinja2", "openpyxl", "numpy"}
GOLDEN = Path(__file__).parent / "golden"
PAGES = {
    "wearstats": [],
    "demo": ["demo"],
    "report": ["report"],
    "wear": ["wear"],
    "gauging": ["gauging"],
    "shaft": ["shaft"],
    "contact": ["contact"],
    "loosening": ["loosening"],
    "methods": ["methods"],
    "stock": ["stock"],
    "limits": ["limits"],
    "shelf": ["shelf"],
    "review": ["review"],
    "calls": ["calls"],
}


@pytest.mark.parametrize("arguments", [["--help"], ["wear", "--help"], ["store", "--help"], ["--version"]])
def test_help_imports_no_heavy_library(arguments: list[str]) -> None:
    code = (
        "import sys\n"
        "from wearstats.__main__ import main\n"
        f"sys.argv = ['wearstats', *{arguments!r}]\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print(*sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout
    assert HEAVY.isdisjoint(ran.stderr.split())


def test_answers_in_words_need_nothing_that_draws() -> None:
    code = (
        "import sys, wearstats.report.answers; print(*{'altair', 'jinja2', 'vl_convert', 'typst'} & set(sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == []


@pytest.mark.parametrize("page", PAGES)
def test_help_page_is_as_it_was(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    shown = CliRunner().invoke(app, [*PAGES[page], "--help"], prog_name="wearstats")
    assert shown.exit_code == 0
    assert shown.stdout == (GOLDEN / f"help-{page}.txt").read_text(encoding="utf-8")


def test_without_a_command_the_help_is_shown() -> None:
    shown = CliRunner().invoke(app, [], prog_name="wearstats")
    assert shown.exit_code == 2
    assert "Commands:" in shown.output


def test_the_module_runs_too() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "wearstats", "--version"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NO_COLOR": "1"},
    )
    assert ran.stdout == "wearstats 0.2.0\n"
