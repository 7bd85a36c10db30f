"""How a hub fits a drawn map, on maps whose answer is seen at once."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.gaps.posterior import FitDraws, fit_draws, hollow_draws


def maps() -> np.ndarray:
    """Two draws of four splines at three stations: all even, and two splines worn by 30 with a hollow of 10 in all."""
    even = np.full((4, 3), -20.0)
    worn = np.array([[-20.0, -30, -20], [-20, -30, -20], [-50, -60, -50], [-50, -60, -50]])
    return np.stack([even, worn])


def test_splines_are_gripped_that_are_as_wide_as_the_space_on_the_way_in() -> None:
    told = fit_draws(maps(), np.array([-20.0, -40.0]))
    # by hand: all four are as wide as the space; of the second the first two are
    assert told.gripped_share.tolist() == [1.0, 0.5]
    assert told.clearance_um.tolist() == [0.0, pytest.approx(-40.0 - (-20 * 4 - 30 * 2 - 50 * 4 - 60 * 2) / 12)]


def test_what_a_hollow_leaves_no_hub_cures() -> None:
    # by hand: over the ends the hub must pass, so 10 are missing in the middle of every spline
    assert hollow_draws(maps()).tolist() == [0.0, 10.0]


def test_several_shafts_at_once_are_as_one_by_one() -> None:
    rng = np.random.default_rng(6)
    maps, space = rng.normal(-30.0, 8.0, (4, 7, 5, 3)), rng.normal(-30.0, 2.0, (4, 7))
    together = fit_draws(maps, space)
    for name in FitDraws.__slots__:
        alone = np.stack([getattr(fit_draws(maps[k], space[k]), name) for k in range(4)])
        assert getattr(together, name) == pytest.approx(alone), name
