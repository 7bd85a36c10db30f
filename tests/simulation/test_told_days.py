"""The committed table of days told is kept, and a part of it is remade."""

import pytest

from tests.simulation.records_end import SHAPE, Records, score, summary
from tests.simulation.told_days import TABLE, WORLDS


def committed() -> dict[str, list[float]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][1:]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {row[0]: [float(cell) for cell in row[1:]] for row in rows}


def test_days_told_take_the_shape_to_the_truth() -> None:
    table = committed()
    assert set(table) == set(WORLDS)
    for when in ("at once", "within two months"):
        none, some = (table[f"told {when}, {who}"] for who in ("no day told", "3 in 10 tell the day"))
        assert abs(some[1] - SHAPE) < 0.015 * SHAPE
        assert abs(some[1] - SHAPE) < abs(none[1] - SHAPE)
        assert some[2] >= none[2] - 0.02


@pytest.mark.slow
def test_a_part_of_the_table_is_remade() -> None:
    found = summary(score(Records(delay=0.02, day_told=0.3), 20)).loc["shape"]
    assert found["mean"] == pytest.approx(SHAPE, abs=0.04)
