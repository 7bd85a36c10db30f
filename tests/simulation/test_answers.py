"""The committed table of what becomes known is kept, and a part of it is remade."""

import numpy as np
import pytest

from tests.simulation.answers import TABLE, TIMES, WORLDS, Asking, score

SCORED = [name for name, world in WORLDS.items() if world.how != "never"]


def committed() -> dict[tuple[str, str], list[float]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][1:]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {(row[0], row[1]): [float(cell) for cell in row[2:]] for row in rows}


def test_the_forecast_is_right_on_average_and_its_interval_holds() -> None:
    table = committed()
    assert set(table) == {(name, time) for name in WORLDS for time in TIMES}
    for name in SCORED:
        for time in TIMES:
            fleets, _, came, ratio, _, inside, _, uniform = table[name, time]
            # counts scatter by at least their root
            assert ratio == pytest.approx(1.0, abs=max(0.05, 3 / np.sqrt(fleets * came)))
            assert inside >= 0.88 - 2 * np.sqrt(0.09 / fleets)
            assert uniform > 0.001


def test_one_chance_for_everybody_was_off() -> None:
    table = committed()
    assert table["all asked regularly", "quarter"][4] < 0.9
    assert table["seven owners in ten silent", "year"][4] > 1.2


def test_where_nobody_is_asked_no_failure_is_found() -> None:
    found = score(Asking(how="never"), 2)
    assert not found["found"].any()
    assert (found["high"] <= found["hubs"]).all()


@pytest.mark.slow
def test_a_part_of_the_table_is_remade() -> None:
    scored = score(WORLDS["three owners in ten silent"], 100)
    for time in TIMES:
        part = scored[scored["time"] == time]
        assert part["expected"].mean() / part["came"].mean() == pytest.approx(1.0, abs=0.08)
        assert part["inside"].mean() >= 0.82
        assert (part["high"] <= part["hubs"]).all()
