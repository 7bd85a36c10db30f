"""The committed table of forecasts and of the watch on failures is kept, and a part of it is remade."""

import numpy as np
import pytest

from tests.simulation.forecast import SIZES, TABLE, chances, coverage, draw_fleet

Rows = dict[int, list[float]]


def committed() -> tuple[Rows, Rows]:
    """Read the two tables: by hubs, the other columns."""
    tables = []
    for section in TABLE.read_text(encoding="utf-8").split("\n## ")[1:]:
        lines = [line for line in section.splitlines() if line.startswith("| ")][1:]
        cells = [[float(cell) for cell in line.strip("|").split("|")] for line in lines]
        tables.append({int(row[0]): row[1:] for row in cells})
    return tables[0], tables[1]


def test_the_forecast_holds_what_it_promises() -> None:
    forecasts, _ = committed()
    assert set(forecasts) == set(SIZES)
    for fleets, expected, came, inside, _ in forecasts.values():
        error = 3 * np.sqrt(0.09 / fleets)
        assert inside >= 0.90 - error
        # whole numbers hold more often than they promise where few are expected
        assert inside <= (0.99 if expected < 10 else 0.90 + error + 0.02)
        assert came == pytest.approx(expected, rel=0.08)


def test_the_watch_runs_as_long_as_is_stated() -> None:
    _, watches = committed()
    for _, stated, true, low, middle, high in watches.values():
        assert true == pytest.approx(stated, rel=0.10)
        assert low < middle < high


def test_fleets_have_what_they_should() -> None:
    rng = np.random.default_rng(1)
    fleet = draw_fleet(4000, rng)
    assert 0.05 < fleet.histories.failed.mean() < 0.4
    assert not (fleet.known_next & ~fleet.running).any()
    # twice the hazard from now on brings about twice the failures
    more = [draw_fleet(4000, np.random.default_rng(2), times_as_many=k).known_next.sum() for k in (1.0, 2.0)]
    assert 1.4 < more[1] / more[0] < 2.2


def test_a_fleet_without_failures_is_not_foretold() -> None:
    rng = np.random.default_rng(3)
    assert chances(draw_fleet(3, rng), draws=2, rng=rng) is None


@pytest.mark.slow
def test_a_part_of_the_table_is_remade() -> None:
    forecasts, _ = committed()
    found = coverage(400, 100)
    assert found["cover"] == pytest.approx(forecasts[400][3], abs=0.08)
    assert found["expected"] == pytest.approx(forecasts[400][1], rel=0.1)
