"""Sets that are as good as the chosen one, against every set of a small example looked at one by one."""

from itertools import combinations

import numpy as np

from wearstats.analysis.stock.sizes.as_good import AS_GOOD, sets_as_good

SIZES = np.arange(0.0, 60.0, 5.0)
NEEDS = np.random.default_rng(3).uniform(0.0, 55.0, 200)


def total(chosen: tuple[int, ...]) -> float:
    return float(((NEEDS[:, None] - SIZES[list(chosen)]) ** 2).min(axis=1).mean()) + 2.0 * len(chosen)


def test_they_are_those_of_all_sets_that_differ_by_one_move() -> None:
    chosen = min((each for k in range(1, 6) for each in combinations(range(len(SIZES)), k)), key=total)
    near = {
        each
        for each in combinations(range(len(SIZES)), len(chosen))
        if len(set(each) & set(chosen)) == len(chosen) - 1
        # moved past no other
        and sum(one != other for one, other in zip(each, chosen, strict=True)) == 1
    }
    least = total(chosen) * (1 + AS_GOOD)
    free = ~np.eye(len(SIZES), dtype=bool)
    assert set(sets_as_good(total, chosen, [], apart=free)) == {each for each in near if total(each) <= least}
    assert len(near) > 4


def test_sizes_that_cannot_be_told_apart_do_not_stand_side_by_side() -> None:
    apart = np.abs(SIZES[:, None] - SIZES) >= 10.0
    for each in sets_as_good(lambda _: 1.0, (2, 5, 8), [], apart=apart):
        assert np.diff(SIZES[list(each)]).min() >= 10.0


def test_others_come_first_and_once_and_the_chosen_never() -> None:
    free = ~np.eye(len(SIZES), dtype=bool)
    found = sets_as_good(lambda _: 1.0, (3,), [(1, 2), (3,), (1, 2)], apart=free)
    assert found[0] == (1, 2)
    assert found.count((1, 2)) == 1
    assert (3,) not in found
