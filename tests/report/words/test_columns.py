"""The list of all columns: every column has its words and a right example, and data/README.md has it as it is."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from wearstats.cli.main import app
from wearstats.domain.examples import example_of
from wearstats.domain.tables import TABLES, Table
from wearstats.report.words.columns import TABLE_WORDS, column_rows, columns_markdown, with_columns
from wearstats.store.parsing.cells import read_rows

README = Path(__file__).resolve().parents[3] / "data" / "README.md"


def test_the_list_in_the_readme_is_today_s() -> None:
    text = README.read_text(encoding="utf-8")
    assert text == with_columns(text), "write it anew with: make columns"


def test_every_column_is_listed_with_its_words() -> None:
    assert [table.name for table in TABLES] == list(TABLE_WORDS)
    rows = column_rows()
    assert [(row["table"], row["column"]) for row in rows] == [
        (table.name, column.name) for table in TABLES for column in table.columns
    ]
    assert all(all(row.values()) for row in rows)
    assert all(f"| {column.name} |" in columns_markdown() for table in TABLES for column in table.columns)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_example_is_one_that_intake_takes(table: Table) -> None:
    frame = pd.DataFrame({column.name: [example_of(column)] for column in table.columns}, dtype=object)
    if table.name == "readings":
        # a size stands in the unit of its inspection
        frame = frame.drop(columns="width")
        table = Table(name="readings", key=table.key, columns=table.columns[:-1])
    assert read_rows(table, frame).problems == {}


def test_the_command_prints_it() -> None:
    shown = CliRunner().invoke(app, ["store", "columns", "gauges"], prog_name="wearstats")
    assert shown.exit_code == 0
    assert "kind" in shown.stdout
    assert "micrometer-flat, micrometer-blade" in shown.stdout
    refused = CliRunner().invoke(app, ["store", "columns", "gauge"], prog_name="wearstats")
    assert refused.exit_code == 2
    assert "gauge: names no table; patterns, engine_types, gauges" in refused.stderr
