"""The committed table of single shafts' widths is kept, and a part of it is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation import few_shafts
from tests.simulation.shaft_maps import FLEETS, LAW, QUESTIONS, SCENES, SEED, TABLE, study


def committed(*, few: bool = False) -> dict[tuple[str, int], dict[str, float]]:
    rows: dict[tuple[str, int], dict[str, float]] = {}
    for section in TABLE.read_text(encoding="utf-8").split(few_shafts.HEADING)[few].split("\n## ")[1 - few :]:
        lines = [line for line in section.splitlines() if line.startswith("| ")]
        heads, *cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
        for row in cells:
            rows.setdefault((row[0], int(row[1])), {}).update(zip(heads[2:], map(float, row[2:]), strict=True))
    return rows


def test_the_table_holds_what_is_promised() -> None:
    rows = committed()
    assert set(rows) == {(name, shafts) for name in SCENES for shafts in FLEETS}
    for row in rows.values():
        for name in QUESTIONS:
            assert row[name] >= 0.93 - 2 * row["error"]
        # a prediction leans towards the mean of all shafts, so for the most worn it is a little short
        for name in ("least", "middle", "most"):
            for question in ("mean", "widest", "narrowest"):
                assert row[f"{question}, {name} worn"] >= 0.90
    for name in LAW:
        assert np.mean([rows[scene, 60][f"law: {name}"] for scene in SCENES]) >= 0.91


@pytest.mark.slow
@pytest.mark.parametrize("name", ["usual", "hardly any workshop"])
def test_the_table_is_remade(name: str) -> None:
    found = study(60, SCENES[name], fleets=15, rng=np.random.default_rng([SEED, 99]))
    row = committed()[name, 60]
    for question in QUESTIONS:
        assert found[question] == pytest.approx(row[question], abs=0.05)


def test_few_shafts_are_told_as_surely_as_is_said() -> None:
    rows = committed(few=True)
    assert set(rows) == {(name, shafts) for name in few_shafts.SCENES for shafts in few_shafts.FLEETS}
    for (name, shafts), row in rows.items():
        for question in ("mean", "place"):
            least, most = (0.93 if shafts >= 3 else 0.92), 0.975
            assert row[question] >= least - 2 * row["error"], (name, shafts, question)
            # one or two shafts hang on the stated limits, which are meant to err on the wide side
            assert shafts < 3 or row[question] <= most + 2 * row["error"], (name, shafts, question)
        if shafts == 30 and name == "usual":
            assert row["wider, 95 in 100"] <= 1.03
        # no shaft of many is taken for surer than the least that one alone might be
        if shafts == 3 and name != "drawn":
            assert row["narrowest"] >= 0.8 * rows[name, 1]["narrowest"]


@pytest.mark.slow
@pytest.mark.parametrize("shafts", [1, 3, 10])
@pytest.mark.parametrize("name", list(few_shafts.SCENES))
def test_the_table_of_few_shafts_is_remade(name: str, shafts: int) -> None:
    rng = np.random.default_rng([few_shafts.SEED, 99, shafts])
    found = few_shafts.study(shafts, name, fleets=120 // shafts, rng=rng)
    row = committed(few=True)[name, shafts]
    for question in ("mean", "place"):
        assert found[question] == pytest.approx(row[question], abs=0.06)
