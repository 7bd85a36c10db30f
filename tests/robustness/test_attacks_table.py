"""The table of attacks names tests that are there, and leaves none of its own out."""

from __future__ import annotations

import ast
import re
from pathlib import Path

HERE = Path(__file__).parent
TOP = HERE.parents[1]
OWN = [*HERE.glob("test_attacks_[!t]*.py"), TOP / "tests" / "browser" / "test_policy.py"]


def _rows() -> list[list[str]]:
    text = (HERE / "attacks.md").read_text(encoding="utf-8")
    rows = [line.strip().strip("|").split(" | ") for line in text.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in row] for row in rows[1:]]


def _tests(file: Path) -> set[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_every_row_says_all_and_names_tests_that_are_there() -> None:
    rows = _rows()
    assert len(rows) > 40
    for row in rows:
        assert len(row) == 4, row
        assert all(row), row
        named = re.findall(r"`(tests/[^`]+\.py)::(test_[^`]+)`", row[3])
        assert len(named) == row[3].count("`") / 2, row[3]
        for file, test in named:
            assert test in _tests(TOP / file), f"{file}::{test}"


def test_no_test_of_an_attack_is_left_out() -> None:
    named = {test for row in _rows() for test in re.findall(r"::(test_[^`]+)`", row[3])}
    assert len(OWN) == 6
    assert set().union(*(_tests(file) for file in OWN)) <= named
