"""The committed tables of coarse steps are kept, and a part of them is remade."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.rounding import REPEATABILITIES, SEED, STEPS, TABLE, fleet_study, study


def committed() -> list[dict[tuple[float, float], dict[str, float]]]:
    tables = []
    for section in TABLE.read_text(encoding="utf-8").split("\n## ")[1:]:
        lines = [line for line in section.splitlines() if line.startswith("| ")]
        heads, *rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
        tables.append(
            {(float(row[0]), float(row[1])): dict(zip(heads[2:], map(float, row[2:]), strict=True)) for row in rows}
        )
    return tables


def test_the_tables_hold_what_is_promised() -> None:
    one_width, fleets = committed()
    assert set(one_width) == {(step, sd) for step in STEPS for sd in REPEATABILITIES}
    for row in one_width.values():
        assert row["intervals: cover mean"] >= 0.91
        assert row["intervals: cover sd"] >= 0.90
    for (_, repeatability), row in fleets.items():
        assert row["intervals: repeatability"] == pytest.approx(repeatability, abs=0.6)
        assert row["intervals: cover shaft"] >= 0.92
        assert row["intervals: cover place"] >= 0.93


@pytest.mark.slow
@pytest.mark.parametrize(("step", "repeatability"), [(25.4, 2.0), (12.7, 5.0)])
def test_the_tables_are_remade(step: float, repeatability: float) -> None:
    one_width, fleets = committed()
    rng = np.random.default_rng([SEED, 1])
    found = study(step, repeatability, replicates=100, rng=rng)
    for key, value in one_width[step, repeatability].items():
        if "cover" in key:
            assert found[key] == pytest.approx(value, abs=0.08)
    again = fleet_study(step, repeatability, fleets=1, rng=rng)
    for key, value in fleets[step, repeatability].items():
        assert again[key] == pytest.approx(value, abs=0.07 if "cover" in key else 0.8)
