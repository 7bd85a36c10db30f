"""Draws of fittings that share readings, hand or hub; and maps taken at their word."""

import numpy as np
import pytest

from wearstats.analysis.gaps.draws import Bonds, draw_normals, gaps_of_maps, maps_as_read
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.widths.data import PatternShape, WidthBlock


def test_bonds_show_in_the_draws() -> None:
    # fittings 0 and 1: same readings; 2: same shaft and hand, other readings; 3: another shaft, same hand
    bonds = Bonds(
        shaft=np.array([0, 0, 0, 1]), readings=np.array([0, 0, 1, 2]), hand=np.zeros(4, int), hub=np.arange(4),
        bias_share=np.full(4, 0.8),
    )  # fmt: skip
    normal = draw_normals(bonds, 6, 20_000, draws=NamedDraws(1))
    assert normal.mean(axis=1) == pytest.approx(np.zeros((4, 6)), abs=1e-12)
    leading = np.asarray(np.corrcoef(normal[:, :, -1]))
    assert leading[0, 1] == pytest.approx(1.0)
    assert leading[0, 2] == pytest.approx(0.8, abs=0.02)
    assert leading[0, 3] == pytest.approx(0.0, abs=0.02)
    others = np.asarray(np.corrcoef(normal[:, :, 0]))
    assert (others[0, 1], others[0, 2]) == pytest.approx((1.0, 0.0), abs=0.02)
    assert normal[..., -1].std(axis=1) == pytest.approx(np.ones(4), abs=0.02)


def test_measures_of_one_map_by_hand() -> None:
    # two splines, three stations from the shoulder; space 0: spline 0 is 2 wide at the nut end and 1 over a hollow
    maps = np.array([[[[-4.0, 1.0, 2.0], [-10.0, -10.0, -12.0]]]])
    draws = gaps_of_maps(maps, np.array([[0.0]]))
    # gaps left: spline 0: max(0, 2) - width = 6, 1, 0; spline 1: 10, 10, 12
    assert draws.fit.gap_left_um[0, 0] == pytest.approx(39 / 6)
    assert draws.room_um[0, 0] == -2.0
    assert draws.filed_um[0, 0] == 2.0
    assert draws.play_bound_um[0, 0] == 0.0
    assert draws.three_tightest_um[0, 0] == pytest.approx((7 / 3 + 32 / 3) / 2)


def test_maps_as_read_fill_what_was_not_read() -> None:
    shape = PatternShape(pattern="P", splines=2, stations=("shoulder", "nut-end"), new_width_mm=6.0)
    count = np.zeros((1, 2, shape.slots))
    mean = np.zeros_like(count)
    count[0, 0, :3], mean[0, 0, :3] = [1, 2, 1], [-10, -20, -14]  # spline 0 both, spline 1 shoulder only
    count[0, 1, 0], mean[0, 1, 0] = 1, -12
    block = WidthBlock(shape=shape, unit=np.array([0]), inspection=np.array([[0, 1]]), count=count, mean=mean)
    # spline 0 shoulder: (-10 - 12) / 2; nut end of spline 1: mean of the nut-end readings
    assert maps_as_read(block)[0] == pytest.approx(np.array([[-11.0, -20.0], [-14.0, -20.0]]))


def test_a_station_that_was_never_read_is_taken_at_the_mean_of_the_shaft() -> None:
    shape = PatternShape(pattern="P", splines=2, stations=("shoulder", "nut-end"), new_width_mm=6.0)
    count = np.zeros((1, 1, shape.slots))
    mean = np.zeros_like(count)
    count[0, 0, [0, 2]], mean[0, 0, [0, 2]] = [3, 1], [-10, -22]
    block = WidthBlock(shape=shape, unit=np.array([0]), inspection=np.array([[0]]), count=count, mean=mean)
    # three readings of -10 and one of -22
    assert maps_as_read(block)[0] == pytest.approx(np.array([[-10.0, -13.0], [-22.0, -13.0]]))
