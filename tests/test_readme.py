"""The README says what is so: its commands run, and its table of estimates beside the truth is today's."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.support.demo_copies import copy_with_kept
from wearstats.analysis.estimate import Estimate
from wearstats.cli.main import app
from wearstats.report.answers import short_answers
from wearstats.resources import resource
from wearstats.studies.demo import demo_files
from wearstats.studies.loosening.study import LooseningStudy
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.wear.answer import WearStudy

TOP = Path(__file__).resolve().parents[1]
README, DATA, REPORTS = ((TOP / folder / "README.md").read_text(encoding="utf-8") for folder in ("", "data", "reports"))


def blocks(text: str = README) -> list[list[str]]:
    """Give the indented blocks of commands, but for what stands between fences."""
    found = re.findall(r"(?:^    \S.*\n)+", re.sub(r"^```.*?^```", "", text, flags=re.M | re.S), flags=re.MULTILINE)
    return [[line.strip() for line in block.splitlines()] for block in found]


def test_the_two_commands_install_as_the_project_says() -> None:
    run, check = blocks()[0], blocks()[1]
    for command in (*run, *check):
        assert "-c constraints.txt" in command
        assert "python3 -m venv .venv" in command
    assert run[0].endswith(".venv/bin/wearstats demo")
    assert ".venv/bin/pytest -n auto" in check[0]
    # the same test command stands in what is run before anything lands
    assert "pytest -n auto" in (TOP / "Makefile").read_text(encoding="utf-8")
    assert "make check" in (TOP / ".ci" / "run").read_text(encoding="utf-8")


def test_the_commands_on_own_data_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WEARSTATS_STORE", str(tmp_path / "own.duckdb"))
    for file in demo_files():
        shutil.copy(file, tmp_path / file.name)
    commands = [line for block in blocks(DATA) for line in block if line.startswith("wearstats ")]
    assert len(commands) >= 5
    for command in commands:
        ran = CliRunner().invoke(app, shlex.split(command)[1:], prog_name="wearstats", catch_exceptions=False)
        # store check finds what was spoiled in the demo on purpose
        assert ran.exit_code == (6 if "check" in command else 0), f"{command}: {ran.output}"


def test_the_mail_is_answered_from_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WEARSTATS_STORE", str(tmp_path / "own.duckdb"))
    (mail,) = [block for block in blocks() if block[0].startswith("Shaft ")]
    (command,) = [line for block in blocks() for line in block if "--from" in line]
    (tmp_path / "mail.txt").write_text("\n".join(mail) + "\n", encoding="utf-8")
    ran = CliRunner().invoke(app, shlex.split(command)[1:], prog_name="wearstats", catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    assert ran.stdout.startswith("WHICH HUB FOR P-17?")


def test_the_lines_of_python_run(demo_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    copy_with_kept(demo_file, tmp_path / "wearstats.duckdb")
    (lines,) = [block for block in blocks() if block[0] == "import wearstats"]
    exec("\n".join(lines), {})
    assert (tmp_path / "wear.html").is_file()


def test_every_question_of_the_table_is_a_command() -> None:
    names = re.findall(r"^\| `wearstats (\w+)", REPORTS, flags=re.MULTILINE)
    assert {"wear", "shaft", "loosening", "methods", "report", "store"} <= set(names)
    for name in names:
        ran = CliRunner().invoke(app, [name, "--help"], prog_name="wearstats")
        assert ran.exit_code == 0


def test_the_answers_are_as_they_look(demo: Snapshot, demo_methods: MethodsStudy, demo_stock_d8: StockStudy) -> None:
    asked = {"shaft": study_shaft(demo, "S0080"), "methods": demo_methods, "stock": demo_stock_d8}
    told = [
        "\n".join(line for answer in short_answers(question, result) for line in answer.lines())
        for question, result in asked.items()
    ]
    assert "```\n" + "\n\n".join(told) + "\n```\n" in README, "\n\n".join(told)


def test_links_lead_to_files_that_are_there() -> None:
    for folder, text in (("", README), ("data", DATA), ("reports", REPORTS)):
        links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text)
        assert links or folder == "data"
        assert [link for link in links if not (TOP / folder / link).exists()] == []


def _row(words: str, truth: float, estimate: Estimate, *, decimals: int = 1, scale: float = 1.0) -> str:
    assert estimate.value is not None
    assert estimate.low is not None
    assert estimate.high is not None
    value, low, high = (f"{scale * x:.{decimals}f}" for x in (estimate.value, estimate.low, estimate.high))
    return f"| {words} | {scale * truth:.{decimals}f} | {value} ({low} to {high}) |"


def truth_rows(wear: WearStudy, methods: MethodsStudy, loosening: LooseningStudy) -> list[str]:
    """Make the table's rows."""
    truth: dict[str, Any] = json.loads((resource("data/demo") / "truth.json").read_text(encoding="utf-8"))
    more = truth["methods"]["risk_difference_12_months"]
    like = methods.like_shafts
    assert like is not None
    assert methods.same_gap is not None
    gap = loosening.gap
    assert gap is not None
    parts = truth["components_um"]
    risk = truth["methods"]["risk_12_months"]
    frame = methods.methods_frame()
    row = frame[(frame["by"] == "sent") & (frame["method"] == "as-supplied")][["risk", "low", "high"]].astype(float)
    supplied = Estimate(**dict(zip(("value", "low", "high"), row.iloc[0].tolist(), strict=True)))
    quantiles = truth["wear_um"]["quantiles"]
    components = wear.components_um
    return [
        _row("mean wear of a shaft, µm", truth["wear_um"]["mean"], wear.wear_mean_um),
        _row("half the shafts have lost more than, µm", quantiles["0.5"], wear.quantiles_um["0.5"]),
        _row("one in ten more than, µm", quantiles["0.9"], wear.quantiles_um["0.9"]),
        _row("a shaft's own hollow or taper, SD, µm", parts["shaft_station"], components["shaft_station"]),
        _row("bias of an owner with their gauge, SD, µm", parts["measurer"], components["measurer"]),
        _row("bias of the occasion, SD, µm", parts["inspection"], components["inspection"]),
        _row("repeatability at home, SD, µm", parts["repeatability_home"], components["repeatability_home"]),
        _row(
            "log hazard of working loose per 10 µm of gap",
            truth["loosening"]["log_hazard_per_10um"],
            gap.corrected,
            decimals=2,
        ),
        _row("Weibull shape of the time to working loose", truth["loosening"]["shape"], gap.shape, decimals=2),
        _row(
            "failures reported unasked, %",
            truth["loosening"]["reported_unasked"],
            loosening.reported_unasked,
            scale=100,
        ),
        _row("loose within 12 months, sent as supplied, %", risk["as-supplied"], supplied, scale=100),
        _row(
            "more loose as supplied than by hand, on the same shafts, %",
            more["same_shafts"],
            like.difference,
            scale=100,
        ),
        _row("the same, at the same gap, %", more["same_gap"], methods.same_gap.difference, scale=100),
    ]


def test_estimates_stand_beside_the_truth(
    demo_wear: WearStudy, demo_methods: MethodsStudy, demo_loosening: LooseningStudy
) -> None:
    rows = truth_rows(demo_wear, demo_methods, demo_loosening)
    missing = [row for row in rows if row not in REPORTS]
    assert not missing, "the table of reports/README.md should read:\n" + "\n".join(rows)
