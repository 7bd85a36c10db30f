"""Patterns against ISO 14:1982 and facts of the trade."""

from typing import Any

import numpy as np
import pytest

from wearstats.domain.pattern import Pattern
from wearstats.errors import InputError

EIGHT: dict[str, Any] = {
    "pattern": "eight",
    "splines": 8,
    "width_mm": 6.0,
    "space_width_mm": 6.0,
    "minor_mm": 32.0,
    "major_mm": 36.0,
    "engaged_mm": 40.0,
}


def test_height_and_mean_radius() -> None:
    # ISO 14:1982, 8x32x36: h = 2 mm, r_m = 17 mm
    pattern = Pattern(**EIGHT)
    assert pattern.flank_height_mm == 2
    assert pattern.mean_radius_mm == 17
    assert pattern.flank_area_mm2 == 80
    assert pattern.flank_area_all_mm2 == 16 * 80
    assert pattern.cells == (8, 3)


def test_faces_to_consider() -> None:
    # common practice, no source: ten splines give 40 faces, 20 flanks, 10 major and 10 minor
    ten = Pattern(**EIGHT | {"splines": 10, "width_mm": 5.448, "space_width_mm": 5.448})
    assert ten.flanks == 20
    assert ten.faces == ten.flanks + 10 + 10 == 40


def test_widths_are_counted_from_new() -> None:
    # common practice, no source: 4.41 mm when new that reads 4.37 has worn 40 um
    pattern = Pattern(**EIGHT | {"width_mm": 4.41, "space_width_mm": 4.42})
    assert pattern.width_um(4.37) == pytest.approx(-40)
    assert pattern.width_um(np.array([4.41, 4.35])) == pytest.approx([0, -60])
    assert pattern.width_mm_of(-40.0) == pytest.approx(4.37)
    assert pattern.new_clearance_um == 10


def test_a_tighter_hub_has_the_greater_undersize() -> None:
    pattern = Pattern(**EIGHT | {"space_width_mm": 6.02})
    assert pattern.space_um(0.0) == 20
    assert pattern.space_um(100.0) == -80
    assert pattern.undersize_um(-80.0) == 100
    np.testing.assert_array_equal(pattern.space_um(np.array([0.0, 50.0])), [20.0, -30.0])


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"splines": 2}, "3 or more"),
        ({"width_mm": 0.0}, "width_mm: 0.0; a size over 0"),
        ({"engaged_mm": float("nan")}, "engaged_mm: nan; a size over 0"),
        ({"major_mm": 32.0}, "more than the minor diameter 32.0"),
        ({"width_mm": 13.0}, "leave no spaces"),
        ({"stations": ()}, "one or more different names"),
        ({"stations": ("middle", "middle")}, "one or more different names"),
    ],
)
def test_sizes_that_contradict_each_other_are_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says):
        Pattern(**EIGHT | change)


def test_every_contradiction_is_named() -> None:
    with pytest.raises(InputError) as refused:
        Pattern(**EIGHT | {"splines": 2, "major_mm": 30.0})
    assert len(refused.value.problems) == 2


@pytest.mark.parametrize(
    ("engaged", "stations", "places"),
    [
        (28, ("shoulder", "middle", "nut-end"), (3.5, 14, 24.5)),
        (16, ("shoulder", "middle", "nut-end"), (3, 8, 13)),
        (100, ("a", "b", "c", "d", "e"), (6, 28, 50, 72, 94)),
        (8, ("shoulder", "nut-end"), (2, 6)),
        (28, ("only",), (14,)),
    ],
)
def test_where_a_spline_is_measured(engaged: float, stations: tuple[str, ...], places: tuple[float, ...]) -> None:
    # worked by hand: an eighth of the length in from each end, within 3 to 6 mm, and never over a quarter
    pattern = Pattern(
        pattern="P", splines=8, width_mm=6, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=engaged,
        stations=stations,
    )  # fmt: skip
    assert pattern.station_mm == places
