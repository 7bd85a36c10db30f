"""Best sets of sizes against worked examples and against trying all sets."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import Bounds, LinearConstraint, milp

from wearstats.analysis.stock.sizes.best_sets import (
    best_sets,
    cost_of_set,
    share_not_single_peaked,
    single_peaked_below,
)
from wearstats.analysis.stock.sizes.neighbours import Neighbours

NEVER = 1e6


def one_sided(need: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """Only a size of at least the need will do; the excess is the cost."""
    excess = sizes - need[:, None]
    # far below the need it is as bad as can be, but a little less the nearer, so that costs are single-peaked
    return np.where(excess >= -1e-9, excess, NEVER - 1e-3 * sizes)


def tried(cost: np.ndarray, number: int) -> float:
    return min(cost_of_set(cost, chosen) for chosen in combinations(range(cost.shape[1]), number))


def test_ten_wears_by_hand() -> None:
    # worked by hand: wear in um, grid 5; two sizes 35 and 95 leave 200 in all, three sizes 30, 55 and 95 leave 115
    wear = np.array([5, 12, 18, 22, 30, 35, 48, 55, 70, 95.0])
    sizes = np.arange(0, 101, 5.0)
    found = best_sets(one_sided(wear, sizes), most=3)
    assert [tuple(sizes[list(each.chosen)]) for each in found] == [(95.0,), (35.0, 95.0), (30.0, 55.0, 95.0)]
    assert [10 * each.cost for each in found[1:]] == pytest.approx([200, 115])


def test_ten_wears_with_least_filing() -> None:
    # the same with 10 to 60 um to be filed and grid 10: two sizes 60 and 110, 360 um of filing in all
    wear = np.array([5, 12, 18, 22, 30, 35, 48, 55, 70, 95.0])
    sizes = np.arange(0, 121, 10.0)
    filing = sizes - wear[:, None]
    cost = np.where(filing < 10, NEVER - 1e-3 * sizes, np.where(filing > 60, NEVER + 1e-3 * sizes, filing))
    found = best_sets(cost, most=2)[1]
    assert tuple(sizes[list(found.chosen)]) == (60.0, 110.0)
    assert 10 * found.cost == pytest.approx(360)


def test_uniform_wear_is_served_by_equal_steps() -> None:
    # theory: wear even over 100, sizes equally spaced, mean excess 100 / (2 k)
    wear = (np.arange(10_000) + 0.5) / 100
    sizes = np.arange(0, 101, 1.0)
    found = best_sets(one_sided(wear, sizes), most=5)
    assert [each.cost for each in found] == pytest.approx([50, 25, 16.67, 12.5, 10], rel=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_single_peaked_costs_are_solved_exactly(seed: int) -> None:
    rng = np.random.default_rng(seed)
    best = rng.uniform(0, 12, 40)
    sizes = np.arange(13.0)
    steep = rng.uniform(0.5, 4, (40, 2))
    away = sizes - best[:, None]
    cost = np.where(away > 0, steep[:, :1] * away, -steep[:, 1:] * away)
    cost = np.minimum(cost, rng.uniform(2, 20, (40, 1)))
    assert share_not_single_peaked(cost) == 0
    for number, found in enumerate(best_sets(cost, most=4), start=1):
        assert found.cost == pytest.approx(tried(cost, number))
        assert found.bound == pytest.approx(found.cost)


@pytest.mark.parametrize("seed", range(6))
def test_other_costs_come_with_a_bound_that_holds(seed: int) -> None:
    cost = np.random.default_rng(seed).uniform(0, 10, (25, 9))
    assert share_not_single_peaked(cost) > 0
    for number, found in enumerate(best_sets(cost, most=3), start=1):
        exact = tried(cost, number)
        assert found.bound <= exact + 1e-9
        assert found.cost >= exact - 1e-9
        assert found.cost <= 1.1 * exact


@given(
    cost=arrays(float, st.tuples(st.integers(1, 8), st.integers(1, 9)), elements=st.integers(0, 20).map(float)),
    number=st.integers(1, 4),
    besides=arrays(float, 99, elements=st.integers(0, 10).map(float)),
    apart_um=st.integers(0, 4),
)
def test_sets_with_what_lies_between_neighbours_agree_with_trying_all_sets(
    cost: np.ndarray, number: int, besides: np.ndarray, apart_um: int
) -> None:
    peaked, sizes = single_peaked_below(cost), cost.shape[1]
    place = np.arange(sizes)
    neighbours = Neighbours(
        first=besides[:sizes],
        last=besides[9 : 9 + sizes],
        between=besides[18:].reshape(9, 9)[:sizes, :sizes],
        apart=np.abs(place[:, None] - place) >= max(apart_um, 1),
    )
    found = best_sets(peaked, most=number, neighbours=neighbours)
    for size, best in enumerate(found, start=1):
        every = [
            cost_of_set(peaked, chosen)
            + neighbours.first[chosen[0]]
            + neighbours.last[chosen[-1]]
            + sum(neighbours.between[a, b] for a, b in pairwise(chosen))
            for chosen in combinations(range(sizes), size)
            if all(b - a >= apart_um for a, b in pairwise(chosen))
        ]
        assert best.cost == pytest.approx(min(every))
        assert all(b - a >= apart_um for a, b in pairwise(best.chosen))
    # there are no more only where so many cannot be told apart
    assert len(found) == number or len(found) * max(apart_um, 1) >= sizes


@given(seed=st.integers(0, 10_000))
def test_one_more_size_costs_what_the_larger_set_costs(seed: int) -> None:
    rng = np.random.default_rng(seed)
    apart = ~np.eye(7, dtype=bool) & (rng.random((7, 7)) > 0.1)
    neighbours = Neighbours(
        first=rng.random(7), last=rng.random(7), between=np.triu(rng.random((7, 7)), 1), apart=apart & apart.T
    )
    held = sorted(rng.choice(7, rng.integers(0, 4), replace=False).tolist())
    more = neighbours.with_one_more(held)
    for place in range(7):
        larger = sorted([*held, place])
        if place in held or not all(neighbours.apart[a, b] for a, b in pairwise(larger) if place in (a, b)):
            assert more[place] == np.inf
        else:
            assert more[place] == pytest.approx(neighbours.of(larger))


def squares_about_means(points: np.ndarray, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Squared distances from the mean of every run of neighbours, and those means: the centres that can be best."""
    runs = [(a, b) for a in range(len(points)) for b in range(a + 1, len(points) + 1)]
    centres = np.unique([np.average(points[a:b], weights=weight[a:b]) for a, b in runs])
    return (points[:, None] - centres) ** 2, centres


def test_clusters_on_a_line_published() -> None:
    # Wang and Song, R Journal 3(2) (2011) 29-33; numbers from the tests that come with their package's source
    from tests.analysis.support.reference_frames import reference_frame

    points = np.sort(reference_frame("clusters_on_a_line.csv")["x"].to_numpy(float))
    apart, centres = squares_about_means(points, np.ones(len(points)))
    found = best_sets(apart, most=8)[7]
    nearest = apart[:, list(found.chosen)].argmin(axis=1)
    assert centres[list(found.chosen)] == pytest.approx([-7.2666667, -0.4, 8.5, 32.3, 62.5, 75, 82.6, 95.2])
    assert np.bincount(nearest).tolist() == [3, 2, 4, 1, 1, 1, 1, 1]
    assert len(points) * found.cost == pytest.approx(7.5266667 + 13.52 + 11)


def test_weighted_clusters_on_a_line_published() -> None:
    # the same source: points -1, 2, 4, 5, 6 that count 4, 3, 1, 1, 1 times
    points, weight = np.array([-1, 2, 4, 5, 6.0]), np.array([4, 3, 1, 1, 1.0])
    apart, centres = squares_about_means(points, weight)
    found = best_sets(apart, most=3, weight=weight)[2]
    assert centres[list(found.chosen)] == pytest.approx([-1, 2, 5])
    assert weight.sum() * found.cost == pytest.approx(2)


def test_floor_is_single_peaked_and_nowhere_above() -> None:
    cost = np.array([[5.0, 1.0, 4.0, 2.0, 6.0]])
    assert single_peaked_below(cost).tolist() == [[5.0, 1.0, 2.0, 2.0, 6.0]]


def test_shafts_count_by_their_weight() -> None:
    cost = np.array([[0.0, 5.0], [5.0, 0.0]])
    assert best_sets(cost, most=1, weight=np.array([1.0, 3.0]))[0].chosen == (1,)


def test_constructed_parts_of_two_decimals() -> None:
    # sixty constructed parts, each served by the largest size not above its width; sets found by trying all
    from tests.analysis.support.reference_frames import reference_frame

    width = reference_frame("one_sided_sizes.csv")["width"].to_numpy(float)
    sizes = np.unique(width)[::-1]
    loss = width[:, None] - sizes
    cost = np.where(loss >= -1e-9, loss, NEVER + 1e-3 * sizes)
    found = best_sets(cost, most=4)
    assert [60 * each.cost for each in found[1:]] == pytest.approx([3.68, 2.07, 1.52], abs=1e-6)
    assert [sorted(sizes[list(each.chosen)]) for each in found[1:]] == [
        pytest.approx([6.07, 6.16]), pytest.approx([6.07, 6.16, 6.23]), pytest.approx([6.07, 6.15, 6.20, 6.26]),
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_costs_of_any_shape_agree_with_an_integer_programme(seed: int) -> None:
    # facility location written out for scipy's solver: which sizes are kept, and which shaft goes to which
    shafts, sizes, number = 12, 7, 3
    cost = np.random.default_rng(seed).uniform(0, 10, (shafts, sizes))
    goes = np.arange(shafts * sizes).reshape(shafts, sizes) + sizes
    rows, low, high = [], [], []
    kept = np.zeros(sizes + goes.size)
    kept[:sizes] = 1
    rows, low, high = [kept], [number], [number]
    for shaft in range(shafts):
        served = np.zeros(sizes + goes.size)
        served[goes[shaft]] = 1
        rows, low, high = [*rows, served], [*low, 1], [*high, 1]
        for size in range(sizes):
            only = np.zeros(sizes + goes.size)
            only[goes[shaft, size]], only[size] = 1, -1
            rows, low, high = [*rows, only], [*low, -1], [*high, 0]
    found = milp(
        np.concatenate([np.zeros(sizes), cost.ravel()]), constraints=LinearConstraint(np.array(rows), low, high),
        integrality=np.ones(sizes + goes.size), bounds=Bounds(0, 1),
    )  # fmt: skip
    best = best_sets(cost, most=number)[number - 1]
    assert best.bound <= found.fun / shafts + 1e-9
    assert best.cost <= 1.1 * found.fun / shafts
    assert tried(cost, number) == pytest.approx(found.fun / shafts)
