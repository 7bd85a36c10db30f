"""Every class of error has its exit code, and its message goes to stderr."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from wearstats.cli.main import _Commands, app
from wearstats.cli.running import exit_codes
from wearstats.errors import (
    AnalysisError,
    InputError,
    Problem,
    ReportError,
    StoreError,
    UsageError,
    WearstatsError,
)

PROBLEM = Problem(place="readings.csv, row 14, width", found="'x' is no number")

# the numbers that scripts rely on
CODES = [
    (UsageError("no"), 2),
    (InputError(PROBLEM), 3),
    (StoreError("no"), 4),
    (ReportError("no"), 4),
    (AnalysisError("too few", needed="add more"), 5),
    (WearstatsError("no"), 4),
]


@pytest.mark.parametrize(("error", "code"), CODES)
def test_error_leads_to_its_code_and_a_message(error: WearstatsError, code: int) -> None:
    assert exit_codes.exit_code(error) == code
    failing = typer.Typer(cls=_Commands, rich_markup_mode=None, pretty_exceptions_enable=False)

    @failing.command()
    def fail() -> None:
        raise error

    @failing.command()
    def other() -> None:
        """Be a second command, so that the first keeps its name."""

    ran = CliRunner().invoke(failing, ["fail"])
    assert ran.exit_code == code
    assert ran.stdout == ""
    # what would tell stands on a line of its own
    words = str(error) if code != exit_codes.ANALYSIS else "too few\n  What would tell: add more"
    assert ran.stderr == f"wearstats: {words}\n"


def test_all_codes_differ() -> None:
    codes = [exit_codes.OK, exit_codes.FAULT, exit_codes.USAGE, exit_codes.INPUT, exit_codes.STORE]
    assert [*codes, exit_codes.ANALYSIS, exit_codes.FINDINGS] == list(range(7))


@pytest.mark.parametrize("arguments", [["nonsense"], ["shaft"], ["wear", "--nonsense"], ["wear", "more"], []])
def test_usage(arguments: list[str]) -> None:
    ran = CliRunner().invoke(app, arguments)
    assert ran.exit_code == 2
    assert ran.stdout == ""


@pytest.mark.parametrize("question", [["wear"], ["shaft", "S1"], ["loosening"], ["methods"], ["report"]])
def test_a_store_that_is_missing_or_no_store(question: list[str], tmp_path: Path) -> None:
    out = ["--out", str(tmp_path)] if question == ["report"] else []
    rubbish = tmp_path / "rubbish.duckdb"
    rubbish.write_bytes(bytes(range(256)) * 64)
    for path in (tmp_path / "missing.duckdb", rubbish, tmp_path):
        ran = CliRunner().invoke(app, [*question, "--store", str(path), *out])
        assert ran.exit_code == 4
        assert str(path) in ran.stderr
        assert ran.stdout == ""
    assert not (tmp_path / "report.html").exists()


@pytest.mark.parametrize("command", ["demo", "report"])
def test_a_folder_that_cannot_be_made(command: str, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    ran = CliRunner().invoke(app, [command, "--out", str(tmp_path / "file" / "below")])
    assert ran.exit_code == 4
    assert "choose another --out" in ran.stderr


def test_a_fault_of_ours_is_code_one_with_its_trace() -> None:
    code = (
        "import sys\n"
        "import wearstats.cli.questions as commands\n"
        "import wearstats.store.database.connection as connection\n"
        "def broken(path, **_):\n    raise ZeroDivisionError('ours')\n"
        "connection.open_store = broken\n"
        "sys.argv = ['wearstats', 'wear']\n"
        "from wearstats.__main__ import main\n"
        "main()\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.returncode == exit_codes.FAULT
    assert "ZeroDivisionError: ours" in ran.stderr
