"""Even draws are normal, each label's its own, and tell an average more closely than as many drawn one by one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from wearstats.analysis.numerics.even_draws import even_normals
from wearstats.analysis.numerics.named_draws import NamedDraws


def test_each_number_is_standard_normal_and_none_hangs_on_another() -> None:
    drawn = even_normals(NamedDraws(1), "x", range(64), log2_count=6, size=5)
    assert drawn.shape == (64, 64, 5)
    flat = drawn.reshape(-1, 5)
    for column in flat.T:
        assert stats.kstest(column, "norm").pvalue > 1e-3
    assert np.corrcoef(flat.T) == pytest.approx(np.eye(5), abs=0.05)


def test_a_label_draws_the_same_whatever_the_others_are() -> None:
    draws = NamedDraws(3, ("stock",))
    both = even_normals(draws, "x", ["S1", "S2"], log2_count=4, size=3)
    alone = even_normals(draws, "x", ["S2"], log2_count=4, size=3)
    np.testing.assert_array_equal(both[1], alone[0])
    assert not np.allclose(both[0], both[1])
    assert not np.allclose(alone, even_normals(draws, "y", ["S2"], log2_count=4, size=3))


def test_averages_of_a_bent_function_scatter_far_less_over_seeds() -> None:
    # truth: E exp(0.3 sum) of ten standard normals is exp(10 * 0.09 / 2)
    truth, plain, even = np.exp(0.45), [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        plain.append(np.exp(0.3 * rng.standard_normal((64, 10)).sum(axis=1)).mean())
        drawn = even_normals(NamedDraws(seed), "x", ["S1"], log2_count=6, size=10)[0]
        even.append(np.exp(0.3 * drawn.sum(axis=1)).mean())
    assert np.mean(even) == pytest.approx(truth, abs=3 * np.std(even) / 60**0.5)
    assert np.std(even) < 0.6 * np.std(plain)
