"""The command review: what it prints, and what it refuses."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.studies.support.fitting_store import make_store, plain_frames, shelf_counted
from wearstats.cli.main import app
from wearstats.store.database.connection import create_store


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a shop of forty fittings, without readings, orders or prices."""
    return make_store(tmp_path_factory.mktemp("review") / "small.duckdb", plain_frames() | shelf_counted("2024-04-20"))


def run(store: Path, *words: str) -> tuple[int, str, str]:
    ran = CliRunner().invoke(app, ["review", "--store", str(store), *words])
    return ran.exit_code, ran.stdout, ran.stderr


def test_without_readings_orders_or_prices_it_says_what_it_can(small: Path) -> None:
    code, said, _ = run(small, "--quarter", "2024Q2", "--as-of", "2025-06-30", "--full")
    assert code == 0
    assert "In 2024Q2" in said
    assert "became known to have worked loose" in said
    assert "one rate for all hubs" in said
    assert "Failures by quarter" in said


def test_document(small: Path) -> None:
    code, said, _ = run(small, "--quarter", "2024Q2", "--as-of", "2025-06-30", "--json")
    assert code == 0
    document = json.loads(said)
    assert document["answer"] == "review"
    assert document["quarter"] == "2024Q2"
    assert document["failures"] == 8
    assert document["failures_per_100_hub_months"]["level"] == 0.95
    assert document["at_risk"] == []


@pytest.mark.parametrize("quarter", ["2023Q1", "2023Q4", "2024Q1"])
def test_an_empty_and_the_first_quarter_are_answered(small: Path, quarter: str) -> None:
    code, said, _ = run(small, "--quarter", quarter, "--as-of", "2024-05-01", "--full")
    assert code == 0
    assert f"In {quarter}" in said


def test_the_quarter_that_runs_is_told_as_not_over(small: Path) -> None:
    code, said, _ = run(small, "--quarter", "2024Q2", "--as-of", "2024-05-01", "--full")
    assert code == 0
    assert "In 2024Q2, which is not over on 2024-05-01," in said


@pytest.mark.parametrize(
    ("quarter", "told"),
    [
        ("soon", "'soon' is not a quarter; write year, Q and 1 to 4, for instance 2026Q3"),
        ("2026Q5", "'2026Q5' is not a quarter"),
        ("2031Q1", "2031Q1 had not begun on 2025-06-30; the last one over is 2025Q2"),
    ],
)
def test_what_is_no_quarter_and_what_is_to_come_are_refused(small: Path, quarter: str, told: str) -> None:
    code, said, refused = run(small, "--quarter", quarter, "--as-of", "2025-06-30")
    assert code == 2
    assert said == ""
    assert told in refused


def test_where_nothing_is_on_record_the_data_cannot_answer(tmp_path: Path) -> None:
    path = tmp_path / "empty.duckdb"
    create_store(path)
    code, _, refused = run(path, "--as-of", "2025-06-30")
    assert code == 5
    assert "add dispatches, fittings, follow_ups or returns" in refused
