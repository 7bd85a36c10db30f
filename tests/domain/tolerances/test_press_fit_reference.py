"""Press fits against the formulae of Lame, worked by hand (derived)."""

import pytest

from wearstats.domain.tolerances.press_fit import press_fit
from wearstats.errors import InputError


def test_a_hub_on_a_solid_register() -> None:
    # 60/100 mm, 0.030 mm on the diameter, E 210 GPa, friction 0.3, 10 mm long
    found = press_fit(
        interference_mm=0.030, register_mm=60, hub_outside_mm=100, length_mm=10, modulus_mpa=210_000, friction=0.3
    )
    assert found.pressure_mpa == pytest.approx(33.6, abs=0.05)
    assert found.force_n == pytest.approx(19_000, abs=50)
    assert found.hub_hoop_mpa == pytest.approx(71.4, abs=0.05)


def test_another_hub_on_a_solid_register() -> None:
    # 30/50 mm solid, 0.010 mm on the diameter, E 207 GPa, friction 0.15, 20 mm long
    found = press_fit(
        interference_mm=0.010, register_mm=30, hub_outside_mm=50, length_mm=20, modulus_mpa=207_000, friction=0.15
    )
    assert found.pressure_mpa == pytest.approx(22.08, abs=0.005)
    assert found.force_n == pytest.approx(6243, abs=0.5)


def test_a_bore_makes_the_shaft_yield_and_diameters_must_nest() -> None:
    sizes = {"interference_mm": 0.01, "register_mm": 30.0, "length_mm": 20.0, "modulus_mpa": 207e3, "friction": 0.15}
    solid = press_fit(hub_outside_mm=50, **sizes)
    assert press_fit(hub_outside_mm=50, bore_mm=15, **sizes).pressure_mpa < solid.pressure_mpa
    with pytest.raises(InputError, match="each inside the next"):
        press_fit(hub_outside_mm=30, **sizes)
