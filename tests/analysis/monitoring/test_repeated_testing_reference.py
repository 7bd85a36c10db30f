"""How often repeated looks mislead, against published tables."""

import numpy as np
import pytest

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.monitoring.repeated_testing import false_alarm_chance, ordinary_false_alarms


@pytest.mark.parametrize(
    ("looks", "chance"), [(1, 0.05), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193), (20, 0.248)]
)
def test_nominal_five_in_a_hundred(looks: int, chance: float) -> None:
    # Armitage, McPherson and Rowe, J. R. Statist. Soc. A 132 (1969) 235-244, Table 2
    assert ordinary_false_alarms(looks) == pytest.approx(chance, abs=5e-4)


@pytest.mark.parametrize("row", reference_frame("group_sequential_constants.csv").to_dict("records"))
def test_limits_that_hold_five_in_a_hundred(row: dict[str, float]) -> None:
    looks = int(row["K"])
    pocock = np.full(looks, row["pocock_cp"])
    falling = row["obf_cb"] * np.sqrt(looks / np.arange(1, looks + 1))
    # constants are printed to three decimals
    assert false_alarm_chance(pocock) == pytest.approx(0.05, abs=1e-4)
    assert false_alarm_chance(falling) == pytest.approx(0.05, abs=1.2e-4)


def test_no_look_misleads_nobody() -> None:
    assert ordinary_false_alarms(0) == 0.0


def test_agrees_with_drawn_histories() -> None:
    draws = np.random.default_rng(3).standard_normal((200_000, 12)).cumsum(axis=1) / np.sqrt(np.arange(1, 13))
    # Monte Carlo error 0.0009
    assert ordinary_false_alarms(12) == pytest.approx((np.abs(draws) > 1.959964).any(axis=1).mean(), abs=3e-3)
