"""The wear of few shafts: published and independent posteriors, and no jump where more shafts come in."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from tests.analysis.wear.test_mixture import fleet
from wearstats.analysis.wear.describe import wear_of
from wearstats.analysis.wear.few_shafts import NEW_MEAN_UM, SPREAD_ONE_IN_TWENTY_UM, FewShaftsWear, weigh_laws
from wearstats.analysis.wear.mixture import LEAST_SHAFTS
from wearstats.domain.arrays import FloatArray

EFFECTS = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
ERRORS = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
"""Eight coaching courses: D. B. Rubin, J. Educ. Statist. 6 (1981) 377-401; in A. Gelman, Bayesian Analysis 1 (2006)
515-533, section 5."""


def flat(at: FloatArray) -> FloatArray:
    return np.zeros_like(at)


def half_cauchy_25(at: FloatArray) -> FloatArray:
    return np.asarray(stats.halfcauchy.logpdf(at, scale=25.0))


def spread_quantiles(laws: FewShaftsWear, probabilities: list[float]) -> FloatArray:
    """Quantiles of the spread, each on the grid standing for those up to half way, by the logarithm, to the next."""
    at = laws.spread_um[0, :, 0]
    ends = np.append(np.sqrt(at[1:] * at[:-1]), at[-1])
    return np.asarray(np.interp(probabilities, np.cumsum(laws.weights.sum(axis=(0, 2))), ends))


def dense(read: FloatArray, sd: FloatArray, log_prior: object, upper: float = 2000.0) -> tuple[FloatArray, FloatArray]:
    """Weigh spreads of a normal law on a fine grid, the mean integrated out exactly (Gelman 2006, section 5.1)."""
    at = np.geomspace(1e-3, upper, 20_000)
    variance = at[:, None] ** 2 + sd**2
    precision = (1 / variance).sum(axis=1)
    mean = (read / variance).sum(axis=1) / precision
    height = -0.5 * np.log(precision) - 0.5 * np.log(variance).sum(axis=1)
    height += -0.5 * ((read - mean[:, None]) ** 2 / variance).sum(axis=1) + log_prior(at) + np.log(at)  # type: ignore[operator]
    weight = np.exp(height - height.max())
    return at, weight / weight.sum()


def test_eight_schools_as_published() -> None:
    laws = weigh_laws(EFFECTS, ERRORS, skewness=(0.02,), log_spread_prior=flat, log_mean_prior=flat)
    # from memory, of 200 draws: A. Gelman and others, Bayesian Data Analysis, 2nd ed., table 5.3 and its text: mean
    # about 8, and 2.5, 25, 50, 75, 97.5 % of the spread about 0.1, 2, 5, 10, 21
    assert laws.mean(common_se_um=0.0).value == pytest.approx(8.0, abs=0.5)
    assert spread_quantiles(laws, [0.25, 0.5, 0.75, 0.975]) == pytest.approx([2.0, 5.0, 10.0, 21.0], abs=1.5)


@pytest.mark.parametrize("schools", [3, 8])
def test_a_normal_law_is_what_a_dense_grid_says(schools: int) -> None:
    # the half-Cauchy density of scale 25 is Gelman's for three schools, whose likelihood alone has an endless tail
    read, sd = EFFECTS[:schools], ERRORS[:schools]
    laws = weigh_laws(read, sd, skewness=(0.02,), log_spread_prior=half_cauchy_25, log_mean_prior=flat)
    at, weight = dense(read, sd, half_cauchy_25)
    wanted = np.interp([0.25, 0.5, 0.75, 0.95], np.cumsum(weight), at)
    assert spread_quantiles(laws, [0.25, 0.5, 0.75, 0.95]) == pytest.approx(wanted, rel=0.1, abs=0.5)
    variance = at[:, None] ** 2 + sd**2
    own = 1 / (1 / variance).sum(axis=1)
    mean = (read / variance).sum(axis=1) * own

    def below(x: float) -> float:
        return float(weight @ stats.norm.cdf((x - mean) / np.sqrt(own)))

    told = laws.mean(common_se_um=0.0)
    ends = [optimize.brentq(lambda x, p=p: below(x) - p, -500, 500) for p in (0.025, 0.5, 0.975)]
    assert [told.low, told.value, told.high] == pytest.approx(ends, abs=0.8)


def test_skew_laws_are_what_a_markov_chain_says() -> None:
    read, sd = np.array([12.0, 55.0, 20.0, 96.0, 31.0]), np.array([6.0, 8.0, 6.0, 4.0, 8.0])
    laws = weigh_laws(read, sd, skewness=(1.0,))
    rng = np.random.default_rng(3)
    shape = 4.0
    # Metropolis over mean, log spread and the shafts' own gamma variates, 40 chains side by side
    chains, steps = 40, 12_000
    mean, log_spread = rng.normal(40, 10, chains), np.log(rng.uniform(15, 60, chains))
    own = rng.gamma(shape, 1.0, (chains, 5))

    def height(mean: FloatArray, log_spread: FloatArray, own: FloatArray) -> FloatArray:
        spread = np.exp(log_spread)
        lost = mean[:, None] + spread[:, None] * (own - shape) / np.sqrt(shape)
        value = -0.5 * (((read - lost) / sd) ** 2).sum(axis=1) + (shape * np.log(own) - own).sum(axis=1)
        value += log_spread - spread * np.log(20) / SPREAD_ONE_IN_TWENTY_UM
        return np.asarray(value - np.logaddexp(0.0, -mean / NEW_MEAN_UM))

    here, kept = height(mean, log_spread, own), []
    for step in range(steps):
        move = (mean + rng.normal(0, 6, chains), log_spread + rng.normal(0, 0.2, chains))
        # losses stay where they are as far as they can, lest nearly every step is refused
        lost = mean[:, None] + np.exp(log_spread)[:, None] * (own - shape) / np.sqrt(shape)
        if step % 2:
            moved = own * np.exp(rng.normal(0, 0.15, own.shape))
            trial, bent = (mean, log_spread, moved), np.zeros(chains)
        else:
            moved = shape + np.sqrt(shape) * (lost - move[0][:, None]) / np.exp(move[1])[:, None]
            trial, bent = (*move, np.maximum(moved, 1e-12)), 5 * (log_spread - move[1])
            # in the variates themselves the density lacks the logarithm's factor
            bent = bent - np.log(trial[2]).sum(axis=1) + np.log(own).sum(axis=1)
        there = np.where((moved > 0).all(axis=1), height(*trial) + bent, -np.inf)
        take = np.log(rng.random(chains)) < there - here
        mean, log_spread = np.where(take, trial[0], mean), np.where(take, trial[1], log_spread)
        own = np.where(take[:, None], trial[2], own)
        here = height(mean, log_spread, own)
        if step > 2_000 and step % 10 == 0:
            kept.append((mean, np.exp(log_spread)))
    found_mean, found_spread = (np.concatenate(each) for each in zip(*kept, strict=True))
    told = laws.mean(common_se_um=0.0)
    assert [told.low, told.value, told.high] == pytest.approx(np.quantile(found_mean, [0.025, 0.5, 0.975]), abs=3.5)
    quantile = found_mean + found_spread * (stats.gamma.ppf(0.9, shape) - shape) / np.sqrt(shape)
    told = laws.quantile(0.9, common_se_um=0.0)
    wanted = np.quantile(quantile, [0.025, 0.5, 0.975])
    assert [told.low, told.value, told.high] == pytest.approx(wanted, rel=0.07, abs=2.0)


def test_one_shaft_is_as_open_as_the_prior_leaves_it() -> None:
    told = weigh_laws(np.array([60.0]), np.array([8.0])).mean(common_se_um=0.0)
    assert told.value == pytest.approx(60.0, abs=6.0)
    assert told.low is not None
    assert told.high is not None
    assert 0 < told.low < 20
    assert 100 < told.high < 200


def test_shafts_read_alike_are_not_taken_for_alike() -> None:
    read, sd = np.full(3, 40.0), np.full(3, 8.0)
    laws = weigh_laws(read, sd)
    ends = [laws.quantile(p, common_se_um=0.0).value for p in (0.05, 0.95)]
    assert None not in ends
    low, high = (float(end) for end in ends if end is not None)
    assert high - low > 10.0


def test_a_common_error_widens_intervals() -> None:
    laws = weigh_laws(np.array([10.0, 40.0, 30.0]), np.full(3, 5.0))
    alone, shared = (laws.quantile(0.5, common_se_um=se) for se in (0.0, 12.0))
    assert alone.low is not None
    assert shared.low is not None
    assert alone.high is not None
    assert shared.high is not None
    own, both = (alone.high - alone.low) / 3.92, (shared.high - shared.low) / 3.92
    assert both == pytest.approx(np.hypot(own, 12.0), rel=0.12)


def test_no_shaft_more_makes_a_jump() -> None:
    # the first shafts of some fleets: median width of the intervals; of one fleet alone the law of many may jump by
    # itself, where a tail is empty
    counts = [3, 10, 20, LEAST_SHAFTS - 1, LEAST_SHAFTS + 1, 45, 2 * LEAST_SHAFTS - 1, 2 * LEAST_SHAFTS + 1]
    widths: dict[str, list[list[float]]] = {}
    for seed in range(5):
        _, read, sd = fleet(counts[-1], rng=np.random.default_rng([7, seed]))
        found = [wear_of(read[:n], sd[:n], common_se_um=3.0, unworn=False) for n in counts]
        for key in ("mean", "0.1", "0.5", "0.9"):
            told = [each.mean_um if key == "mean" else each.quantiles_um[key] for each in found]
            widths.setdefault(key, []).append([(one.high or 0.0) - (one.low or 0.0) for one in told])
    for key, by_fleet in widths.items():
        step = np.median(np.array(by_fleet)[:, 1:] / np.array(by_fleet)[:, :-1], axis=0)
        assert step.max() < 1.1, key
        # one or two shafts more at either end of the passage
        assert step[[3, 6]] == pytest.approx([1.0, 1.0], abs=0.1), key


def test_between_few_and_many_both_have_their_share() -> None:
    _, read, sd = fleet(45, rng=np.random.default_rng(6))
    told = wear_of(read, sd, common_se_um=0.0, unworn=False)
    few = weigh_laws(read, sd).quantile(0.9, common_se_um=0.0)
    assert told.mixture is not None
    [many] = told.mixture.law.quantiles_um([0.9], common_se_um=0.0)
    for end in ("value", "low", "high"):
        assert getattr(told.quantiles_um["0.9"], end) == pytest.approx((getattr(few, end) + getattr(many, end)) / 2)
