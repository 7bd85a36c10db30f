"""Turnbull's curve falls together with Kaplan-Meier on exact times, and does not care how the data are written down."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tests.analysis.support.turnbull import fit_turnbull
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier
from wearstats.domain.arrays import FloatArray

EXACT = st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=30)
INTERVALS = st.lists(st.tuples(st.integers(0, 10), st.integers(0, 5), st.booleans()), min_size=1, max_size=25)


def _ends(rows: list[tuple[int, int, bool]]) -> tuple[FloatArray, FloatArray]:
    left = np.array([low for low, _, _ in rows], dtype=float)
    width = np.array([w for _, w, _ in rows], dtype=float)
    return left, np.where([failed for _, _, failed in rows], left + width, np.inf)


@given(EXACT)
def test_exact_times_give_kaplan_meier(rows: list[tuple[int, bool]]) -> None:
    stop = np.array([t for t, _ in rows], dtype=float)
    failed = np.array([f for _, f in rows])
    curve = fit_turnbull(stop, np.where(failed, stop, np.inf), tolerance=1e-10)
    plain = fit_kaplan_meier(stop, failed)
    np.testing.assert_allclose(1 - curve.share_failed(plain.months), plain.still_tight, atol=1e-7)


def test_exact_times_known_late_give_kaplan_meier() -> None:
    rng = np.random.default_rng(5)
    start = np.where(rng.random(80) < 0.4, rng.uniform(0, 8, 80), 0.0)
    stop = start + rng.uniform(0.5, 12, 80)
    failed = rng.random(80) < 0.5
    curve = fit_turnbull(stop, np.where(failed, stop, np.inf), entry=start, tolerance=1e-9)
    plain = fit_kaplan_meier(stop, failed, start=start)
    np.testing.assert_allclose(1 - curve.share_failed(plain.months), plain.still_tight, atol=1e-6)


@given(INTERVALS)
def test_masses_make_a_distribution(rows: list[tuple[int, int, bool]]) -> None:
    curve = fit_turnbull(*_ends(rows))
    assert np.all(curve.mass >= 0)
    assert abs(curve.mass.sum() - 1) < 1e-9
    assert curve.gap <= 1e-8
    months = np.linspace(0, 20, 41)
    share = curve.share_failed(months)
    assert np.all(np.diff(share) >= -1e-12)
    assert np.all((share >= 0) & (share <= 1 + 1e-12))


@given(INTERVALS, st.integers(2, 4), st.sampled_from([0.25, 8.0]))
def test_writing_the_data_otherwise_changes_nothing(
    rows: list[tuple[int, int, bool]], times: int, scale: float
) -> None:
    left, right = _ends(rows)
    plain = fit_turnbull(left, right, tolerance=1e-10).log_likelihood
    weighted = fit_turnbull(left, right, weight=np.full(left.size, float(times)), tolerance=1e-10).log_likelihood
    repeated = fit_turnbull(np.tile(left, times), np.tile(right, times), tolerance=1e-10).log_likelihood
    turned = fit_turnbull(left[::-1], right[::-1], tolerance=1e-10).log_likelihood
    scaled = fit_turnbull(left * scale, right * scale, tolerance=1e-10).log_likelihood
    np.testing.assert_allclose(
        [weighted, repeated, turned, scaled], [times * plain, times * plain, plain, plain], atol=1e-6
    )


@given(INTERVALS)
def test_failures_always_or_never_reported_are_the_two_extremes(rows: list[tuple[int, int, bool]]) -> None:
    left, right = _ends(rows)
    silent = np.isinf(right)
    now = np.where(silent, left + 3, left)
    since = np.where(silent, left, np.nan)
    always = fit_turnbull(now, right, silent_from=since, unreported=0.0, tolerance=1e-10)
    never = fit_turnbull(now, right, silent_from=since, unreported=1.0, tolerance=1e-10)
    followed = fit_turnbull(now, right, tolerance=1e-10)
    unfollowed = fit_turnbull(left, right, tolerance=1e-10)
    assert abs(always.log_likelihood - followed.log_likelihood) < 1e-6
    assert abs(never.log_likelihood - unfollowed.log_likelihood) < 1e-6
