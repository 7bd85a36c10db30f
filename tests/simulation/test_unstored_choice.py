"""The committed table of hubs chosen on more than is on record is kept, and a part of it is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.unstored_choice import AGAIN, FLEETS, POWER_SIZES, TABLE, WORLDS, power, run, summary

PROMISED = 0.93
HEADS = ("slope true", "slope", "slope cover", "slope width", "risk true", "risk", "risk cover", "risk width")


def rows(title: str) -> list[list[str]]:
    section = TABLE.read_text(encoding="utf-8").split(f"\n## {title}\n")[1].split("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]


def coverage() -> dict[tuple[str, int], dict[str, float]]:
    """Read the table of coverage by world and fittings measured again."""
    return {
        (row[0], int(row[1])): dict(zip(HEADS, (float(cell) for cell in row[3:11]), strict=True))
        for row in rows("Coverage")
    }


def error_of(cover: float, fleets: int) -> float:
    return float(np.sqrt(cover * (1 - cover) / fleets))


def test_both_worlds_hold_what_is_promised_at_a_hundred() -> None:
    table = coverage()
    assert set(table) == {(WORLDS[world], again) for world in ("reading", "unstored") for again in AGAIN}
    for world in ("reading", "unstored"):
        for question in ("slope cover", "risk cover"):
            assert table[WORLDS[world], 100][question] >= PROMISED - 2 * error_of(PROMISED, FLEETS), (world, question)


def test_it_mends_what_was_wrong_and_spoils_nothing() -> None:
    table = coverage()
    before, after = (table[WORLDS["unstored"], again] for again in (0, 100))
    assert abs(after["slope"] - after["slope true"]) < 0.3 * abs(before["slope"] - before["slope true"])
    assert after["risk cover"] > before["risk cover"] + 0.2
    clean = [table[WORLDS["reading"], again] for again in AGAIN]
    for row in clean[1:]:
        assert row["slope"] == pytest.approx(clean[0]["slope"], abs=0.02)
        assert row["slope width"] < 1.1 * clean[0]["slope width"]


def test_the_check_is_honest_and_sees_what_matters() -> None:
    told = {(row[0], int(row[1])): (int(row[3]), float(row[4])) for row in rows("Power of the check")}
    for size in POWER_SIZES:
        fleets, seen = told[WORLDS["reading"], size]
        assert seen <= 0.05 + 3 * error_of(0.05, fleets)
        assert told[WORLDS["unstored"], size][1] > 0.95


def test_a_small_fleet_goes_through() -> None:
    found = power("both", 120, 2)
    assert 18 <= found["again"] <= 25
    assert 0 <= found["seen"] <= 1


@pytest.mark.slow
@pytest.mark.parametrize("world", ["reading", "unstored"])
def test_the_table_is_remade(world: str) -> None:
    table = coverage()
    for again, row in summary(*run(world, 40)).iterrows():
        told = table[WORLDS[world], int(str(again))]
        assert row["slope true"] == pytest.approx(told["slope true"])
        assert row["risk true"] == pytest.approx(told["risk true"], abs=1e-3)
        for question in ("slope", "risk"):
            cover = told[f"{question} cover"]
            assert row[f"{question} cover"] == pytest.approx(cover, abs=4 * error_of(min(cover, 0.95), 40)), question
            assert row[f"{question} mean"] == pytest.approx(told[question], rel=0.1)
