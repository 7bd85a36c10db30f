"""A pattern that the store does not know is told by name, with those it knows."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.store.support.small_store import make_store
from wearstats.cli.main import app


@pytest.mark.parametrize("question", ["wear", "gauging", "loosening", "methods", "stock", "review", "calls", "report"])
def test_an_unknown_pattern_is_told_with_those_known(tmp_path: Path, question: str) -> None:
    path = make_store(tmp_path / "s.duckdb")
    asked = [question, "--pattern", "D9", "--store", str(path), "--as-of", "2026-06-30"]
    ran = CliRunner().invoke(app, asked)
    assert ran.exit_code == 2, ran.output
    assert "'D9' was not known to the store on 2026-06-30; it knew D8; say one of these" in ran.output


def test_a_known_one_is_asked_about(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    ran = CliRunner().invoke(app, ["wear", "--pattern", "D8", "--store", str(path), "--as-of", "2026-06-30"])
    assert ran.exit_code != 2, ran.output
