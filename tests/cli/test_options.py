"""The shared options: before the command or after it, the environment, the defaults, and what is refused."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from wearstats.cli.running.options import OF_RISK, Options, remembers_shared_options, takes_shared_options

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
seen: list[Options] = []


@app.callback()
@remembers_shared_options
def _program() -> None:
    """Begin."""


@app.command()
@takes_shared_options(OF_RISK)
def ask(*, word: Annotated[str, typer.Argument()] = "none", options: Options) -> None:
    """Answer."""
    typer.echo(word)
    seen.append(options)


@app.command()
def other() -> None:
    """Be a second command, so that the first keeps its name."""


def _options(*arguments: str, variable: str | None = None) -> Options:
    ran = CliRunner().invoke(app, list(arguments), env={"WEARSTATS_STORE": variable})
    assert ran.exit_code == 0, ran.output
    return seen.pop()


def _refusal(*arguments: str) -> str:
    ran = CliRunner().invoke(app, list(arguments))
    assert ran.exit_code == 2
    return ran.output


def test_defaults() -> None:
    options = _options("ask")
    assert options == Options(as_of=datetime.date.today(), as_of_given=False)
    assert options.store == Path("wearstats.duckdb")
    assert (options.horizon_months, options.risk_limit, options.as_json) == (12.0, 0.05, False)


ALL = ["--store", "a.duckdb", "--as-of", "2026-04-03", "--pattern", "D8", "--horizon-months", "6"]
ALL += ["--risk-limit", "0.1", "--seed", "7", "--full", "--json"]
EXPECTED = Options(
    store=Path("a.duckdb"),
    as_of=datetime.date(2026, 4, 3),
    pattern="D8",
    horizon_months=6.0,
    risk_limit=0.1,
    seed=7,
    full=True,
    as_json=True,
)


@pytest.mark.parametrize("arguments", [["ask", *ALL], [*ALL, "ask"], [*ALL[:4], "ask", *ALL[4:]]])
def test_before_or_after_the_name(arguments: list[str]) -> None:
    assert _options(*arguments) == EXPECTED


def test_after_the_name_counts_more_and_the_environment_least() -> None:
    assert _options("--store", "a", "ask", "--store", "b", variable="c").store == Path("b")
    assert _options("--store", "a", "ask", variable="c").store == Path("a")
    assert _options("ask", variable="c").store == Path("c")


def test_own_parameters_stay() -> None:
    ran = CliRunner().invoke(app, ["ask", "hub", "--seed", "3"])
    assert ran.stdout == "hub\n"
    assert seen.pop().seed == 3


def test_same_seed_same_numbers() -> None:
    one, two = _options("ask", "--seed", "5"), _options("ask", "--seed", "5")
    assert one.seed == two.seed == 5
    assert one.seed != _options("ask").seed


def test_a_date_with_two_meanings_is_refused_with_both() -> None:
    shown = _refusal("ask", "--as-of", "03/04/2026")
    assert "3 April 2026 (2026-04-03)" in shown
    assert "4 March 2026 (2026-03-04)" in shown


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--risk-limit", "5"),
        ("--risk-limit", "0"),
        ("--horizon-months", "0"),
        ("--horizon-months", "nan"),
        ("--seed", "-1"),
    ],
)
def test_what_makes_no_sense_is_refused(option: str, value: str) -> None:
    assert option in _refusal("ask", option, value)
