"""The committed tables of few shafts are kept, and a part of them is remade."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.simulation.few_shafts import BEFORE, FLEETS, LAW, SCENES, TABLE, fleet, study

SINGLE = ("shaft's mean", "place", "gap")
LAWS = tuple(f"law: {name}" for name in LAW)
FEW = [shafts for shafts in FLEETS if shafts <= 20]


def committed(*, before: bool = False) -> dict[tuple[str, int], dict[str, float]]:
    lines = TABLE.read_text(encoding="utf-8").split(BEFORE)[before].splitlines()
    heads, *cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("| ")]
    return {(row[0], int(row[1])): dict(zip(heads[2:], map(float, row[2:]), strict=True)) for row in cells}


def test_over_the_priors_intervals_hold_as_often_as_is_said() -> None:
    rows = committed()
    scenes = {scene for scene, _ in rows}
    assert {"usual", "shafts alike", "drawn"} <= scenes <= set(SCENES)
    assert set(rows) == {(scene, shafts) for scene in scenes for shafts in FLEETS}
    drawn = [rows["drawn", shafts] for shafts in FEW]
    for name in (*SINGLE, *LAWS):
        assert np.mean([row[name] for row in drawn]) >= 0.93 - 0.01, name
    for shafts in FEW:
        error = rows["drawn", shafts]["error"]
        assert np.mean([rows["drawn", shafts][name] for name in SINGLE]) >= 0.93 - 2 * error, shafts


def test_at_each_truth_they_hold_nearly_as_often() -> None:
    rows = committed()
    for scene in {scene for scene, _ in rows}:
        for name in (*SINGLE, *LAWS):
            assert np.mean([rows[scene, shafts][name] for shafts in FEW]) >= 0.90, (scene, name)
        for shafts in FEW:
            error = rows[scene, shafts]["error"]
            assert np.mean([rows[scene, shafts][name] for name in SINGLE]) >= 0.90 - 2 * error, (scene, shafts)


def test_the_law_of_wear_holds_more_often_than_before() -> None:
    now, before = committed(), committed(before=True)
    assert before
    for scene, shafts in set(before) & set(now):
        if 1 < shafts <= 5:
            told = [np.mean([rows[scene, shafts][name] for name in LAWS]) for rows in (now, before)]
            assert told[0] > told[1] + 0.05, (scene, shafts)


def test_intervals_do_not_jump_between_ten_and_sixty_shafts() -> None:
    rows = committed()
    for scene in {scene for scene, _ in rows} - {"drawn"}:
        for name in ("shaft's mean", "gap", *LAWS):
            widths = [rows[scene, shafts][f"width: {name}"] for shafts in (10, 20, 60)]
            assert all(later <= 1.2 * sooner for sooner, later in pairwise(widths)), (scene, name)


def test_a_fleet_hangs_on_its_number_alone() -> None:
    one, other = (fleet("usual", 3, 7) for _ in range(2))
    np.testing.assert_array_equal(one[1], other[1])
    assert not np.array_equal(one[1], fleet("usual", 3, 8)[1])


def test_a_short_study() -> None:
    found = study("usual", 3, fleets=4)
    assert found["gap"] >= 0.6
    assert found["law: mean"] >= 0.5


@pytest.mark.slow
@pytest.mark.parametrize("shafts", [1, 3, 10])
@pytest.mark.parametrize("scene", list(SCENES))
def test_a_part_is_remade(scene: str, shafts: int) -> None:
    # the table's fleets come first, these after
    found = study(scene, shafts, fleets=120 // shafts, first=10_000)
    row = committed().get((scene, shafts))
    for name in SINGLE:
        wanted = pytest.approx(0.95, abs=0.1) if row is None else pytest.approx(row[name], abs=0.09)
        assert found[name] == wanted, name
