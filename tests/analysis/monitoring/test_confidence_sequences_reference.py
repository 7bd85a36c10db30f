"""Intervals that hold at every look, against published ones, by brute force and on drawn histories."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.special import rel_entr

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.monitoring.confidence_sequences import (
    _GRID,
    ALTERNATIVES,
    _crossings,
    difference_sequence,
    evidence_of_no_difference,
    mix_evidence,
    nearest_pair,
    proportion_sequence,
)

risks = st.floats(0.005, 0.995)
sizes = st.integers(1, 60)


@pytest.mark.parametrize("row", reference_frame("confidence_sequences.csv").to_dict("records"))
def test_one_proportion(row: dict[str, float]) -> None:
    found = proportion_sequence(int(row["x"]), int(row["n"]), best_at=row["t_opt"], level=1 - row["alpha"])
    assert found == pytest.approx((row["lower"], row["upper"]), abs=2e-6)


def test_one_proportion_without_trials_or_with_all_failed() -> None:
    assert proportion_sequence(0, 0) == (0.0, 1.0)
    low, high = proportion_sequence(30, 30)
    assert 0.5 < low < high == 1.0


@given(one=risks, other=risks, n=sizes, m=sizes, difference=st.floats(-0.9, 0.9))
def test_nearest_pair_is_the_one_found_by_search(one: float, other: float, n: int, m: int, difference: float) -> None:
    def divergence(p: float) -> float:
        q = p - difference
        parts = ((n, one, p), (m, other, q))
        return sum(k * float(rel_entr(a, b) + rel_entr(1 - a, 1 - b)) for k, a, b in parts)

    low, high = max(0.0, difference), min(1.0, 1.0 + difference)
    searched = minimize_scalar(divergence, bounds=(low, high), method="bounded", options={"xatol": 1e-10})
    found = float(nearest_pair(np.array([[one]]), np.array([[other]]), n, m, np.array([difference]))[0, 0])
    assert divergence(found) <= searched.fun + 1e-8


@given(one=risks, other=risks, n=sizes, m=sizes, difference=st.floats(-0.9, 0.9), at=st.floats(0.0, 1.0))
def test_e_value_is_at_most_one_on_average_whatever_pair_with_that_difference_is_true(
    one: float, other: float, n: int, m: int, difference: float, at: float
) -> None:
    p = float(nearest_pair(np.array([[one]]), np.array([[other]]), n, m, np.array([difference]))[0, 0])
    q = p - difference
    low, high = max(0.0, difference), min(1.0, 1.0 + difference)
    true = low + at * (high - low)
    # the mean of a product of independent factors is the product of their means
    first = true * one / p + (1 - true) * (1 - one) / (1 - p)
    second = (true - difference) * other / q + (1 - true + difference) * (1 - other) / (1 - q)
    assert n * math.log(first) + m * math.log(second) <= 1e-6


def test_evidence_of_no_difference_is_the_sequence_at_zero() -> None:
    counts = [np.array(c) for c in ([2, 0, 3], [9, 7, 12], [0, 1, 1], [8, 10, 9])]
    told = difference_sequence(*counts)
    steps = sum(
        evidence_of_no_difference(counts[0][b : b + 1], int(counts[1][b]), counts[2][b : b + 1], int(counts[3][b]))[0]
        for b in range(3)
    )
    assert told.by_alternative == pytest.approx(steps, abs=1e-8)
    assert told.log_evidence[-1] == pytest.approx(float(mix_evidence(np.asarray(steps))))
    assert told.by_alternative.shape == (len(ALTERNATIVES),)


def test_limits_are_where_the_evidence_crosses() -> None:
    # one large block: no difference is ruled out exactly where the interval leaves out zero
    out = difference_sequence(np.array([60]), np.array([200]), np.array([20]), np.array([200]))
    assert out.low[0] > 0
    assert out.log_evidence[0] > math.log(20)
    undecided = difference_sequence(np.array([30]), np.array([200]), np.array([20]), np.array([200]))
    assert undecided.low[0] < 0 < undecided.high[0]
    assert undecided.log_evidence[0] < math.log(20)


def test_turned_round_it_turns_round() -> None:
    a, n, b, m = (np.array(c) for c in ([3, 5, 8], [20, 30, 25], [1, 0, 2], [22, 28, 31]))
    forth, back = difference_sequence(a, n, b, m), difference_sequence(b, m, a, n)
    assert forth.low == pytest.approx(-back.high, abs=1e-6)
    assert forth.high == pytest.approx(-back.low, abs=1e-6)


def test_ends_only_narrow_and_blocks_without_a_group_change_nothing() -> None:
    rng = np.random.default_rng(8)
    first, second = rng.integers(0, 12, 20), rng.integers(0, 12, 20)
    first[4], second[9] = 0, 0
    told = difference_sequence(rng.binomial(first, 0.3), first, rng.binomial(second, 0.1), second)
    assert np.all(np.diff(told.low) >= 0)
    assert np.all(np.diff(told.high) <= 0)
    for block in (4, 9):
        assert told.low[block] == told.low[block - 1]
        assert told.log_evidence[block] == told.log_evidence[block - 1]


def test_a_difference_that_turns_round_is_found_out() -> None:
    n = np.full(2, 400)
    told = difference_sequence(np.array([120, 8]), n, np.array([8, 120]), n)
    assert told.contradicts
    assert told.low[-1] <= told.high[-1]


def test_ends_lie_where_a_straight_line_between_the_differences_tried_meets_the_limit() -> None:
    grid, step = _GRID, 0.01  # near the middle
    assert np.diff(grid)[40:50] == pytest.approx(step)
    assert (grid[0], grid[-1]) == pytest.approx((-0.98, 0.98))
    left = np.abs(grid) < 0.2 + step / 2
    # evidence of 1 where a difference is left and 5 where it is not: the limit of 2 is a quarter of a step out
    total = np.where(left, 1.0, 5.0)
    low, high = _crossings(total, left, 2.0)
    edge = float(np.abs(grid[left]).max())
    assert (low, high) == pytest.approx((-edge - step / 4, edge + step / 4))
    # one that was ruled out before and is below the limit by now stays out
    assert _crossings(np.where(left, 1.0, 1.5), left, 2.0) == pytest.approx((-edge - step, edge + step))
    # nothing ruled out: all differences that there are
    assert _crossings(total, np.ones(grid.size, dtype=bool), 2.0) == (-1.0, 1.0)
