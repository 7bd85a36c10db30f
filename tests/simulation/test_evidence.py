"""The committed table on the evidence at every look holds what is promised, and a part of it is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.evidence import HISTORIES, TABLE, WORLDS, settled

REMADE = 30


def committed() -> dict[str, list[float]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]
    return {row[0]: [float(cell) for cell in row[1:]] for row in rows}


def test_no_world_without_a_difference_is_settled_more_often_than_said() -> None:
    assert set(committed()) == set(WORLDS)
    for name, (first, *_) in committed().items():
        assert first <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / HISTORIES), name


def test_hubs_of_one_shaft_that_all_enter_raise_false_alarms() -> None:
    assert committed()["all have a pair that fails together"][1] > 0.08


def test_a_part_is_remade() -> None:
    rng, name = np.random.default_rng(5), "all have a pair that fails together"
    kept = committed()[name]
    assert settled(WORLDS[name], 1.0, REMADE, rng)[0] <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / REMADE)
    power = settled(WORLDS[name], 2.5, REMADE, rng)[0]
    assert power == pytest.approx(kept[2], abs=3 * np.sqrt(kept[2] * (1 - kept[2]) / REMADE))
