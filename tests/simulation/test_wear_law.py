"""The committed tables of the law of wear are kept, and a part of them is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.wear_law import ASKED, REPLICATES, SEED, TABLE, TRUTHS, study


def committed() -> dict[tuple[str, int], dict[str, float]]:
    rows: dict[tuple[str, int], dict[str, float]] = {}
    for section in TABLE.read_text(encoding="utf-8").split("\n## ")[1:]:
        lines = [line for line in section.splitlines() if line.startswith("| ")]
        heads, *cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
        for row in cells:
            rows.setdefault((row[0], int(row[1])), {}).update(zip(heads[2:], map(float, row[2:]), strict=True))
    return rows


def test_the_tables_hold_what_is_promised() -> None:
    rows = committed()
    assert set(rows) == {(name, shafts) for name in TRUTHS for shafts in REPLICATES}
    for (_, shafts), row in rows.items():
        # 93 in 100, less two Monte Carlo errors
        least = 0.93 - 2 * (0.93 * 0.07 / REPLICATES[shafts]) ** 0.5
        for name in ASKED:
            assert row[f"{name}: cover"] >= least
            assert abs(row[f"{name}: bias"]) < 0.45
    for name in ASKED:
        assert np.mean([row[f"{name}: cover"] for row in rows.values()]) >= 0.94


def test_the_unworn_share_is_told_where_it_can_be_and_holds() -> None:
    rows = committed()
    for (name, shafts), row in rows.items():
        told = row["unworn: told"]
        if name == "two lumps":
            assert told < 0.1
        else:
            times = told * REPLICATES[shafts]
            assert row["unworn: cover"] >= 0.93 - 2 * (0.93 * 0.07 / times) ** 0.5
    # the more shafts, the oftener, of the candidates
    for name in ("gamma", "lognormal", "Weibull"):
        assert rows[name, 60]["unworn: told"] < rows[name, 200]["unworn: told"] < rows[name, 1000]["unworn: told"]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lognormal", "two lumps"])
def test_the_tables_are_remade(name: str) -> None:
    found = study(TRUTHS[name], 200, replicates=100, rng=np.random.default_rng([SEED, 99]))
    for key, value in committed()[name, 200].items():
        if "cover" in key and np.isfinite(value) and key != "unworn: cover":
            assert found[key] == pytest.approx(value, abs=0.075)
        if key == "unworn: told":
            assert found[key] == pytest.approx(value, abs=0.15)
