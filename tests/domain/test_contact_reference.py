"""Contact, play and load sharing against values worked out by hand from the formula stated."""

import numpy as np
import pytest

from wearstats.domain import contact
from wearstats.domain.units import arcmin_from_mrad, mm_to_um

# one spline a row; shoulder, middle, nut end; micrometres from the new width
TAPERED = np.array([[-60.0, -40.0, -20.0], [-20.0, -40.0, -60.0]])


def test_the_widest_place_on_the_way_in_decides() -> None:
    # derived by hand: the first spline is wider at the nut end, the second at the shoulder
    np.testing.assert_array_equal(contact.way_in(TAPERED), [[-20, -20, -20], [-20, -40, -60]])
    np.testing.assert_array_equal(contact.filing(TAPERED, -50.0), [[30, 30, 30], [30, 10, 0]])
    np.testing.assert_array_equal(contact.gap_left(TAPERED, -50.0), [[40, 20, 0], [0, 0, 10]])
    np.testing.assert_array_equal(contact.gap_floor(TAPERED), [[40, 20, 0], [0, 0, 0]])
    assert contact.deepest_hollow(TAPERED) == 40
    assert contact.clearance(TAPERED, -50.0) == -10
    assert contact.mean_gap_left(TAPERED, -50.0) == pytest.approx(70 / 6)
    assert contact.contact_share(contact.gap_left(TAPERED, -50.0), limit_um=10.0) == pytest.approx(4 / 6)
    assert contact.play_bound(contact.gap_left(TAPERED, -15.0)) == 5


def test_a_hollow_shaft_is_judged_by_its_hollow_and_not_by_its_average() -> None:
    # common practice, no source: full width (4.41 mm) at the ends and 4.35 in the middle must be refused
    shaft_um = np.tile(mm_to_um(np.array([4.41, 4.35, 4.41]) - 4.41), (10, 1))
    for undersize_um in (0.0, 30.0, 60.0, 300.0):
        gap = contact.gap_left(shaft_um, -undersize_um)
        assert gap.mean() < contact.PLAY_LIMIT_UM  # its average would pass
        np.testing.assert_allclose(gap[:, 1], 60)
    assert contact.deepest_hollow(shaft_um) == pytest.approx(60)
    assert contact.deepest_hollow(shaft_um) > contact.PLAY_LIMIT_UM


def test_one_thousandth_of_an_inch_of_play_is_too_much() -> None:
    # common practice, no source
    assert contact.PLAY_LIMIT_UM == 25.4


@pytest.mark.parametrize(
    ("clearance_um", "index_error_um", "play_um"),
    [
        # derived: J = min(c/2 - e) + min(c/2 + e), after ANSI B92.1 / ISO 4156
        ([20, 20, 20, 20], [0, 5, -3, 2], 12.0),
        ([18, 22, 15, 30, 26, 19], [2, -4, 1, 6, -1, 0], 13.5),
        ([20, 20, 20, 20], [0, 0, 0, 0], 20.0),
        ([5, 5, 5], [0, 4, -4], -3.0),
    ],
)
def test_play(clearance_um: list[float], index_error_um: list[float], play_um: float) -> None:
    assert contact.play(np.array(clearance_um), np.array(index_error_um)) == pytest.approx(play_um, abs=1e-12)


def test_play_of_many_hubs_at_once() -> None:
    clearance_um = np.array([[20.0, 30.0], [10.0, 5.0]])
    np.testing.assert_array_equal(contact.play(clearance_um), [20.0, 5.0])


@pytest.mark.parametrize(("splines", "z"), [(1, 0.0), (2, 0.5641896), (6, 1.26721), (8, 1.42360), (10, 1.53875)])
def test_mean_of_the_largest_of_normal_values(splines: int, z: float) -> None:
    # Harter, Biometrika 48, 1961, expected values of normal order statistics (from memory); two give 1/sqrt(pi)
    assert contact.expected_largest_normal(splines) == pytest.approx(z, abs=5e-6)


def test_expected_play() -> None:
    # derived: N = 10, c0 = 20, sc = 4, se = 3 um
    assert contact.expected_play(20.0, 4.0, 3.0, 10) == pytest.approx(8.9039, abs=5e-5)


def test_expected_play_against_drawn_hubs() -> None:
    rng = np.random.default_rng(20261125)
    clearance_um = rng.normal(20, 4, (50_000, 10))
    index_error_um = rng.normal(0, 3, (50_000, 10))
    # one standard error is 0.015 um; min p and min q are taken of the same splines, but means add all the same
    drawn = contact.play(clearance_um, index_error_um).mean()
    assert contact.expected_play(20.0, 4.0, 3.0, 10) == pytest.approx(drawn, abs=0.07)


def test_play_angle() -> None:
    # derived: 25.4 um at r_m = 17 mm
    angle = float(contact.play_angle_mrad(25.4, 17.0))
    assert angle == pytest.approx(1.49412, abs=5e-6)
    assert arcmin_from_mrad(angle) == pytest.approx(5.1364, abs=5e-5)


@pytest.mark.parametrize(
    ("gaps", "stiffness", "force", "engaged", "delta", "loads"),
    [
        # formula derived from Chase, Sorensen & DeCaires, AGMA 09FTM17, 2009; the sixth just touches
        (list(range(10)), 100.0, 1500.0, 5, 5.0, [500, 400, 300, 200, 100, 0, 0, 0, 0, 0]),
        (list(range(10)), 100.0, 3000.0, 8, 7.25, [725, 625, 525, 425, 325, 225, 125, 25, 0, 0]),
        ([0, 3, 4, 9, 12, 15, 20, 22, 25, 30], 80.0, 4000.0, 6, 15.5, [1240, 1000, 920, 520, 280, 40, 0, 0, 0, 0]),
    ],
)
def test_splines_engage_one_after_the_other(
    gaps: list[float], stiffness: float, force: float, engaged: int, delta: float, loads: list[float]
) -> None:
    found = contact.share_load(np.array(gaps, dtype=float), force_n=force, stiffness_n_per_um=stiffness)
    assert found.engaged == engaged
    assert found.delta_um == pytest.approx(delta)
    np.testing.assert_allclose(found.load_n, loads, atol=1e-9)


def test_the_first_of_eight_carries_a_quarter() -> None:
    # same source: 24.17 % on the first at 3000 N
    found = contact.share_load(np.arange(10.0), force_n=3000.0, stiffness_n_per_um=100.0)
    assert found.share[0] == pytest.approx(0.2417, abs=5e-5)


def test_equal_gaps_share_alike() -> None:
    found = contact.share_load(np.full(8, 12.0), force_n=100.0, stiffness_n_per_um=300.0)
    np.testing.assert_allclose(found.share, 1 / 8)
    assert contact.load_share(found.load_n) == pytest.approx(1)


def test_three_shares_are_three_numbers() -> None:
    touched = np.array([True, True, True, False])
    assert contact.count_share(touched) == 0.75
    assert contact.area_share(120.0, 640.0) == pytest.approx(0.1875)
    assert contact.area_share(700.0, 640.0) == 1
    # (10 + 10 + 20)^2 / (4 x 600)
    assert contact.load_share(np.array([10.0, 10.0, 20.0, 0.0])) == pytest.approx(1600 / 2400)
    assert contact.load_share(np.array([5.0, 0.0, 0.0, 0.0])) == 0.25
    assert np.isnan(contact.load_share(np.zeros((2, 4)))).all()
