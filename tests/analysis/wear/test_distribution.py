"""Errors of the spread of losses are what moving single shafts shows, and its intervals are those of counts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from tests.analysis.wear.test_mixture import fleet
from wearstats.analysis.numerics.bounded_bfgs import descend
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.describe import mean_as_read
from wearstats.analysis.wear.distribution import WearSpread, _seen_shares, spread_wear
from wearstats.analysis.wear.families import FAMILIES
from wearstats.analysis.wear.likelihood import WearLikelihood
from wearstats.analysis.wear.mixture import fit_wear_mixture
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray


def spread(likelihood: WearLikelihood) -> WearSpread:
    return spread_wear(likelihood, tuple(likelihood.fit(family) for family in FAMILIES))


@pytest.fixture(scope="module")
def found() -> WearSpread:
    _, read, sd = fleet(150, rng=np.random.default_rng(21))
    return spread(WearLikelihood(read, sd))


def test_influence_is_what_a_little_more_of_one_shaft_does(found: WearSpread) -> None:
    parts = np.stack([found.part_below(found.quantile(p)) for p in (0.1, 0.5, 0.9)])
    told = found._influence(parts)
    like = found.likelihood
    for one in (3, 50, 140):
        moved = []
        for step in (0.02, -0.02):
            like.count[one] = 1 + step
            moved.append(parts @ spread(like).masses)
            like.count[one] = 1.0
        assert told[one] == pytest.approx((moved[0] - moved[1]) / 0.04, abs=2e-4)
    assert told.sum(axis=0) == pytest.approx(np.zeros(3), abs=0.02)


def test_standard_errors_are_those_of_the_bootstrap(found: WearSpread) -> None:
    parts = np.stack([found.part_below(found.quantile(p)) for p in (0.1, 0.5, 0.9)])
    _, se = found.shares(parts)
    like, rng = found.likelihood, np.random.default_rng(22)
    drawn = []
    for _ in range(60):
        like.count[:] = rng.multinomial(150, np.full(150, 1 / 150))
        drawn.append(parts @ spread(like).masses)
    like.count[:] = 1.0
    assert se == pytest.approx(np.std(drawn, axis=0), rel=0.3)


def test_every_round_fits_the_readings_better(found: WearSpread) -> None:
    like = found.likelihood
    fits = [float(np.log(like.density(masses)).sum()) for masses in (*found.rounds, found.masses)]
    assert np.all(np.diff(fits) > 0)
    assert found.masses.sum() == pytest.approx(1.0, abs=1e-6)


def test_quantile_undoes_cumulative(found: WearSpread) -> None:
    for probability in (0.02, 0.3, 0.97):
        assert found.cumulative(np.array(found.quantile(probability))) == pytest.approx(probability, abs=1e-9)
    at = np.linspace(-100, 600, 70_001)
    assert np.trapezoid(found.density(at), at) == pytest.approx(1.0, abs=5e-3)


def test_a_common_error_widens_intervals_to_both_sides(found: WearSpread) -> None:
    (alone,), (shared,) = (found.quantiles_um((0.5,), common_se_um=se) for se in (0.0, 3.0))
    assert alone.low is not None
    assert alone.high is not None
    assert shared.low is not None
    assert shared.high is not None
    assert shared.low < alone.low < alone.high < shared.high
    below = found.part_below(20.0)[None]
    (one,) = found.share_estimates(below, common_um=0.0, method=remark(WearRemark.SERVED))
    (other,) = found.share_estimates(below, common_um=3.0, method=remark(WearRemark.SERVED))
    assert one.high is not None
    assert other.high is not None
    assert one.value == pytest.approx(float(found.cumulative(np.array(20.0))))
    assert other.high > one.high


def test_the_shares_that_may_be_seen_are_those_of_exact_counts() -> None:
    # what 2.5 % to 97.5 % of binomial counts show, to half a count and a little
    for probability, shafts in ((0.9, 60), (0.5, 60), (0.1, 200), (0.95, 400)):
        se = (probability * (1 - probability) / shafts) ** 0.5
        exact = stats.binom.ppf([0.025, 0.975], shafts, probability)
        seen = np.array(_seen_shares(probability, se, 1.96)) * shafts
        assert seen == pytest.approx(exact, abs=0.8)


def test_the_walk_finds_a_crooked_valley_within_bounds() -> None:
    # Rosenbrock's valley: the least value is 0 at (1, 1); with the first held under 0.5 it is at (0.5, 0.25)
    def valley(at: FloatArray) -> tuple[float, FloatArray]:
        return float(optimize.rosen(at)), np.asarray(optimize.rosen_der(at))

    wide = np.array([[-5.0, 5.0], [-5.0, 5.0]])
    value, at = descend(valley, np.array([-1.2, 1.0]), 0.01 * np.eye(2), wide, tolerance=1e-12)
    assert value == pytest.approx(0.0, abs=1e-8)
    assert at == pytest.approx([1.0, 1.0], abs=1e-3)
    narrow = np.array([[-5.0, 0.5], [-5.0, 5.0]])
    _, at = descend(valley, np.array([-1.2, 1.0]), 0.01 * np.eye(2), narrow, tolerance=1e-12)
    assert at == pytest.approx([0.5, 0.25], abs=1e-3)
    held, at = descend(valley, np.array([-1.2, 1.0]), np.diag([0.0, 0.01]), wide, tolerance=1e-12)
    assert at == pytest.approx([-1.2, 1.44], abs=1e-4)
    assert held == pytest.approx(4.84, abs=1e-6)


def test_the_mean_of_skew_losses_has_the_interval_of_halls_transformation() -> None:
    # P. Hall, J. Roy. Statist. Soc. B 54 (1992) 221-228: T + skew (T^2 / 3 + 1 / 6) / sqrt n + skew^2 T^3 / (27 n) is
    # as good as normal; at the ends of the interval it must stand at the quantiles of t
    read = np.random.default_rng(23).lognormal(3.0, 0.9, 80)
    estimate = mean_as_read(read, 0.0)
    skew = stats.skew(read) / 80**0.5
    assert estimate.low is not None
    assert estimate.high is not None
    for end, quantile in ((estimate.low, 0.975), (estimate.high, 0.025)):
        t = (read.mean() - end) / (read.std(ddof=1) / 80**0.5)
        assert t + skew * (t**2 / 3 + 1 / 6) + skew**2 * t**3 / 27 == pytest.approx(stats.t.ppf(quantile, 79), rel=1e-6)
    assert estimate.high - read.mean() > read.mean() - estimate.low


def peaks(curve: FloatArray) -> int:
    steps = np.sign(np.diff(curve)[np.abs(np.diff(curve)) > 1e-9])
    return int(((steps[:-1] > 0) & (steps[1:] < 0)).sum())


def test_band_of_the_smooth_curve_holds_the_truth() -> None:
    # of 30 fleets each the share of places held was 0.949, 0.944 and 0.948 at 40, 150 and 425 shafts, and 0.957, 0.965
    # and 0.931 where the truth was two lumps that no family has exactly
    rng = np.random.default_rng(31)
    truth = np.sort(fleet(400_000, rng=rng)[0])
    at, window = np.quantile(truth, np.linspace(0.03, 0.97, 25)), 5.0
    true = (np.searchsorted(truth, at + window / 2) - np.searchsorted(truth, at - window / 2)) / truth.size / window
    held = []
    for _ in range(12):
        _, read, sd = fleet(150, rng=rng)
        curve, low, high = spread(WearLikelihood(read, sd)).averaged().density_band(at, window_um=window)
        held.append((low <= true) & (true <= high))
        assert peaks(curve) <= 2
    assert 0.85 <= np.mean(held) <= 1.0


def test_no_curve_is_drawn_where_no_family_fits() -> None:
    rng = np.random.default_rng(32)
    lumps = rng.normal([0.0, 30.0, 100.0], [6.0, 8.0, 15.0], (150, 3))
    read = lumps[np.arange(150), rng.choice(3, 150, p=[0.3, 0.4, 0.3])] + rng.normal(0, 5, 150)
    assert fit_wear_mixture(read, np.full(150, 5.0), unworn=False).smooth is None
    _, read, sd = fleet(150, rng=rng)
    assert fit_wear_mixture(read, sd, unworn=False).smooth is not None
