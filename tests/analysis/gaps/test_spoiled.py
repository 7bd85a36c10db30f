"""Wrong records are found, odd but true ones are left alone, and the share learnt is that of the likelihood."""

import numpy as np
import pytest
from scipy import optimize

from wearstats.analysis.gaps.spoiled import LEFT_OUT, judge_hubs, judge_inspections, learn_shares, usual_scatter


def test_the_share_is_that_at_the_maximum_of_the_likelihood() -> None:
    # independent: the posterior of the share under a beta(2.5, 99.5) density, maximised directly
    ratio = np.random.default_rng(1).normal(-3.0, 3.0, 400)

    def down(share: float) -> float:
        mixed = np.log(1 - share + share * np.exp(ratio)).sum()
        return float(-mixed - 1.5 * np.log(share) - 98.5 * np.log1p(-share))

    share = optimize.minimize_scalar(down, bounds=(1e-4, 0.9), method="bounded", options={"xatol": 1e-9}).x
    expected = share * np.exp(ratio) / (1 - share + share * np.exp(ratio))
    assert learn_shares(ratio) == pytest.approx(expected, abs=1e-5)


def test_a_few_wild_values_do_not_make_the_scatter() -> None:
    rng = np.random.default_rng(2)
    off = rng.normal(0, 20, 2000)
    clean = usual_scatter(off, stated_um=20)
    assert clean == pytest.approx(20, rel=0.05)
    off[:20] = 53_900
    assert usual_scatter(off, stated_um=20) == pytest.approx(clean, rel=0.03)
    assert usual_scatter(np.array([np.nan]), stated_um=20) == 20


@pytest.mark.parametrize("off_um", [53_865.0, 500.0, -714.0, 90.0, 36.0])
def test_a_mistyped_space_is_found(off_um: float) -> None:
    off = np.random.default_rng(3).normal(1, 4, 300)
    off[::7] = np.nan
    off[10] = off_um
    batch = np.array([f"B{at // 20}" for at in range(300)], dtype=object)
    batch[:40:2] = None
    off[60:80] += 22.0  # a whole batch is off, and gauged right
    chance = judge_hubs(off, batch)
    assert chance[10] > LEFT_OUT
    assert (np.delete(chance, 10) < 0.1).all()
    assert (chance[::7] == 0).all()
    assert (judge_hubs(np.full(3, np.nan), batch[:3]) == 0).all()


def fleet(rng: np.random.Generator, size: int = 400) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Long-tailed wear, hubs chosen on the reading in steps of 25 um, a third measured twice."""
    worn = -rng.gamma(1.5, 20.0, size)
    level = worn + rng.normal(0, 8, size)
    space = np.maximum(np.round(level / 25) * 25, -125.0) + 10.0
    again = np.where(np.arange(size) % 3 == 0, worn + rng.normal(0, 8, size), np.nan)
    return level, space, again


def test_half_a_turn_of_the_thimble_is_found() -> None:
    level, space, again = fleet(np.random.default_rng(4))
    for at in (0, 1):  # measured again and not
        read = level.copy()
        read[at] -= 250
        chance = judge_inspections(read, space, again)
        assert chance[at] > LEFT_OUT
        assert (np.delete(chance, at) < LEFT_OUT).all()


def test_a_shaft_worn_beyond_all_others_is_left_alone_where_its_hub_says_so() -> None:
    level, space, again = fleet(np.random.default_rng(5))
    level[1], space[1], again[1] = -260.0, -255.0, np.nan
    assert judge_inspections(level, space, again)[1] < LEFT_OUT


def test_hardly_an_inspection_of_a_sound_fleet_is_left_out() -> None:
    # 60 fleets of 400; the long tail of wear, cut off by the narrowest hub, is the hard part
    left_out = sum(
        int((judge_inspections(*fleet(np.random.default_rng([6, seed]))) > LEFT_OUT).sum()) for seed in range(60)
    )
    assert left_out <= 0.001 * 60 * 400
