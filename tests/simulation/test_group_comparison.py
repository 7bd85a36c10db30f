"""The committed table on the comparison of groups' curves holds what is promised, and a part of it is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.group_comparison import ALIKE, APART, TABLE, WORLDS, judge


def committed() -> dict[str, dict[str, float]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    heads, *rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: dict(zip(heads[1:], map(float, row[1:]), strict=True)) for row in rows}


def _error(share: float, number: int) -> float:
    return float(np.sqrt(share * (1 - share) / number))


def test_groups_alike_come_out_different_no_more_often_than_said() -> None:
    table = committed()
    assert set(table) == set(WORLDS)
    for name, row in table.items():
        assert row["level"] <= 0.05 + 2 * _error(0.05, ALIKE), name
    assert np.mean([row["level"] for row in table.values()]) <= 0.05


def test_little_power_is_lost_by_not_knowing_the_null() -> None:
    for name, row in committed().items():
        assert row["power"] >= row["power, null known"] - 0.05, name


@pytest.mark.parametrize("name", ["20 against 200"])
def test_a_part_is_remade(name: str) -> None:
    found, kept = judge(WORLDS[name], alike=60, apart=30), committed()[name]
    assert found["level"] <= 0.05 + 3 * _error(0.05, 60)
    assert found["power"] == pytest.approx(kept["power"], abs=3 * _error(kept["power"], 30))


@pytest.mark.slow
@pytest.mark.parametrize("name", WORLDS)
def test_the_table_is_remade(name: str) -> None:
    found, kept = judge(WORLDS[name]), committed()[name]
    for key in ("level", "power"):
        # the same seeds: only what the arithmetic of another machine moves
        assert found[key] == pytest.approx(kept[key], abs=2 * _error(max(kept[key], 0.05), APART)), key
