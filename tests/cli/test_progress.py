"""Whoever waits is told what for, on stderr; whoever stops reading hears nothing more."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
import time
from importlib import import_module
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wearstats.cli.main import app
from wearstats.cli.running import progress
from wearstats.report.words.stages import STAGES
from wearstats.studies.demo import demo_as_of
from wearstats.studies.snapshot import Part

ROOMS = (
    *("inputs.width_fit", "gaps.known_gaps", "gaps.contact", "wear.study", "wear.growth", "gauging.study"),
    *("loosening.fit_from_store", "loosening.study", "methods.study", "shaft.background", "shaft.study"),
    *("stock.demand", "stock.study", "counts.all_hubs", "review.study", "review.calls"),
)


def test_stages_are_of_parts_that_are_there() -> None:
    parts = {
        part.__qualname__  # type: ignore[attr-defined]
        for room in ROOMS
        for part in vars(import_module(f"wearstats.studies.{room}")).values()
        if isinstance(part, Part)
    }
    assert set(STAGES) <= parts


def test_what_takes_longer_than_a_moment_is_said_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(progress, "AFTER_S", 0.01)
    with progress.progress():
        for stage in ("counting", "counting", "weighing", "counting"):
            progress.doing(stage)
            time.sleep(0.1)
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == ["… counting", "… weighing"]


def test_what_is_quick_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with progress.progress():
        progress.doing("counting")
    assert capsys.readouterr().err == ""


def test_a_document_stays_whole_beside_it(monkeypatch: pytest.MonkeyPatch, demo_file: Path) -> None:
    monkeypatch.setattr(progress, "AFTER_S", 0.001)
    ran = CliRunner().invoke(app, ["gauging", "--store", str(demo_file), "--as-of", demo_as_of().isoformat(), "--json"])
    assert json.loads(ran.stdout)["answer"] == "gauging"
    assert "…" in ran.stderr


def _command(demo_file: Path, *more: str) -> list[str]:
    asked = ["shaft", "S0300", "--store", str(demo_file), "--as-of", demo_as_of().isoformat(), *more]
    return [sys.executable, "-m", "wearstats", *asked]


def test_a_reader_who_has_had_enough_ends_it_well(demo_file: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    try:
        ran = subprocess.run(
            _command(demo_file, "--full"), stdout=write, stderr=subprocess.PIPE, text=True, check=False, timeout=120
        )
    finally:
        os.close(write)
    assert ran.returncode == 0
    assert "Error" not in ran.stderr
    assert "Traceback" not in ran.stderr


@pytest.mark.parametrize(
    ("environment", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)]
)
def test_colours_are_for_verdicts_on_a_terminal(demo_file: Path, environment: dict[str, str], coloured: bool) -> None:
    wanted = {name: value for name, value in os.environ.items() if name != "NO_COLOR"} | {"TERM": "xterm"}
    here, there = pty.openpty()
    process = subprocess.Popen(_command(demo_file), stdout=there, stderr=subprocess.DEVNULL, env=wanted | environment)
    os.close(there)
    seen = b""
    while True:
        try:
            part = os.read(here, 4096)
        except OSError:
            break
        if not part:
            break
        seen += part
    os.close(here)
    assert process.wait(120) == 0
    assert (b"\x1b[1m" in seen or b"\x1b[31m" in seen) == coloured
    # one stretch, and no more
    assert seen.count(b"\x1b[0m") == int(coloured)
