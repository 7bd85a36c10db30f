"""The committed tables on the comparison of methods hold what is promised, and a part of them is remade."""

from __future__ import annotations

import pytest

from tests.simulation.methods import SHARES, TABLE, WORN, compare_fleets, look_often


def committed() -> list[dict[str, dict[str, float]]]:
    tables = []
    for section in TABLE.read_text(encoding="utf-8").split("\n## ")[1:]:
        lines = [line for line in section.splitlines() if line.startswith("| ")]
        heads, *rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
        tables.append({row[0]: dict(zip(heads[1:], map(float, row[1:]), strict=True)) for row in rows})
    return tables


def test_intervals_on_the_same_shafts_hold_the_truth_where_the_plain_ones_do_not() -> None:
    fleets, _ = committed()
    assert set(fleets) == set(WORN)
    for name, row in fleets.items():
        if name in {"two fittings a shaft", "chosen on unwritten knowledge"}:
            continue  # the first is a little short, the second is what adjusting cannot mend
        assert row["cover"] >= 0.93, name
        assert row["cover ratio"] >= 0.93, name
        assert abs(row["bias"]) < 0.01, name
        assert row["standard error"] == pytest.approx(row["sd"], rel=0.1), name
    for name in ("500 fittings", "no effect", "steeper choice and risk"):
        assert fleets[name]["plain: cover"] < 0.9
    assert fleets["chosen by lot"]["plain: cover"] >= 0.93


def test_unwritten_knowledge_leaves_a_bias_smaller_than_the_plain_one() -> None:
    row = committed()[0]["chosen on unwritten knowledge"]
    assert 0.005 < abs(row["bias"]) < abs(row["plain: bias"]) / 3


def test_looking_every_quarter_misleads_at_most_once_in_twenty_and_an_ordinary_test_more_often() -> None:
    _, looks = committed()
    assert set(looks) == set(SHARES)
    for name, row in looks.items():
        assert row["cover at all looks"] >= 0.95, name
        if name.startswith("both"):
            assert row["settled"] <= 0.05, name
            assert row["ordinary test, looked at as often"] > 0.15, name
            assert row["ordinary test, once"] == pytest.approx(0.05, abs=0.007), name
    assert looks["0.25 against 0.08"]["settled"] > 0.8


@pytest.mark.parametrize("name", ["both 0.10"])
def test_the_errors_of_looking_often_are_remade(name: str) -> None:
    _, looks = committed()
    # Monte Carlo error at most 0.003
    found = look_often(*SHARES[name], sequences=3, seed=17)
    for key in ("settled", "ordinary test, looked at as often", "ordinary test, once"):
        assert found[key] == pytest.approx(looks[name][key], abs=0.012), key


@pytest.mark.slow
@pytest.mark.parametrize("name", ["500 fittings", "no effect"])
def test_the_coverage_on_the_same_shafts_is_remade(name: str) -> None:
    fleets, _ = committed()
    found = compare_fleets(WORN[name], fleets=40, seed=1000)
    assert found["cover"] == pytest.approx(fleets[name]["cover"], abs=0.1)
    assert found["bias"] == pytest.approx(fleets[name]["bias"], abs=0.025)
    assert found["plain: bias"] == pytest.approx(fleets[name]["plain: bias"], abs=0.025)
