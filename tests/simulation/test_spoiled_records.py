"""Wrong records hardly move the slope: the committed table, and one store of every kind anew."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.estimate_ends import three
from tests.simulation.spoiled_records import KINDS, ONE, TABLE, make_spoiled_store, slope, spoiled
from wearstats.cli.main import app
from wearstats.studies.demo import demo_as_of

_LONG = (*ONE, "gauged spaces", "whole inspections", "single readings")
ALLOWED = 0.10
"""How far the mean slope may move, as a share of it."""


def committed() -> dict[str, list[float]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]
    return {row[0]: [float(cell) for cell in row[1:]] for row in rows}


def test_the_table_holds_what_is_promised() -> None:
    table = committed()
    assert set(table) == {"none", *ONE, *KINDS}
    sound = table["none"][1]
    for kind, (_, value, *_) in table.items():
        assert value == pytest.approx(sound, rel=ALLOWED), kind


@pytest.mark.parametrize("kind", ["none", *(pytest.param(kind, marks=pytest.mark.slow) for kind in _LONG)])
def test_a_row_is_remade(kind: str) -> None:
    _, value, lowest, highest, *_ = committed()[kind]
    low, found, high = three(slope(kind))
    assert lowest - 0.002 <= found <= highest + 0.002
    assert low < value < high


def test_the_wrong_record_is_named(tmp_path: Path) -> None:
    store = make_spoiled_store(spoiled("one figure wrong", 0), tmp_path)
    asked = ["--store", str(store), "--as-of", demo_as_of().isoformat(), "--json"]
    checked = CliRunner().invoke(app, ["store", "check", *asked])
    assert checked.exit_code == 6
    document = json.loads(checked.stdout)
    unlike = [found for found in document["findings"] if found["check"] == "unlike_all_others"]
    assert [found["place"] for found in unlike] == ["hub H0002"]
    assert unlike[0]["found"] == "gauged 5.943 mm, 500 µm over its size"
    assert len(document["moves_most"]) == 3
    told = json.loads(CliRunner().invoke(app, ["loosening", *asked]).stdout)["gap"]["records"]
    assert [hub["hub"] for hub in told["hubs_by_size"]] == ["H0002"]
    assert told["moves_most"] == document["moves_most"]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["hubs exchanged", "states", "dates", "all six together"])
def test_an_outcome_row_is_remade(kind: str) -> None:
    _, _, lowest, highest, *_ = committed()[kind]
    for seed in range(2):
        assert lowest - 0.002 <= three(slope(kind, seed))[1] <= highest + 0.002
