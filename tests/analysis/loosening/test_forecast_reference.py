"""Forecasts of failures: a published one, brute force, and direct integration."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tests.analysis.support.reference_frames import reference_frame
from tests.simulation.forecast import draw_fleet
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.loosening.forecast import Predicted, cost_estimate, count_estimate, predict, running_chances
from wearstats.analysis.loosening.likelihood import LooseningData
from wearstats.analysis.numerics.poisson_binomial import count_chances, count_interval, many_interval
from wearstats.analysis.survival.reporting import SilentHistories


def cage_chances() -> np.ndarray:
    table = reference_frame("bearing_cages_forecast.csv")
    return np.repeat(table["rho"].to_numpy(float), table["n"].to_numpy(int))


def test_bearing_cages_published() -> None:
    # W. Q. Meeker, L. A. Escobar, Statistical Methods for Reliability Data, 1998, ch. 12: 5.057 expected in each unit's
    # next 300 hours; the law of the number, and 2 and 9 as the plug-in 5 and 95 % bounds
    chance = cage_chances()
    law = count_chances(chance)
    printed = [0.0063, 0.0383, 0.1193, 0.2564, 0.4300, 0.6057, 0.7539, 0.8609, 0.9284, 0.9663]
    assert chance.sum() == pytest.approx(5.057, abs=2e-3)
    assert np.cumsum(law)[:10] == pytest.approx(printed, abs=2e-4)
    assert count_interval(law, level=0.90) == (2, 9)


def test_bearing_cages_from_the_histories() -> None:
    # the same, the chances worked out here from the printed Weibull law (shape 2.035, scale 11 792 h): all reported
    frame = reference_frame("bearing_cages.csv")
    running = frame[frame["status"] == 0]
    hours = np.repeat(running["hours"].to_numpy(float), running["count"].to_numpy(int))
    data = still_running(hours, np.zeros_like(hours))
    shape, scale = 2.035, 11_792.0
    # months stand for hours here: the level is the expected failures in the law's own year of twelve
    parameters = np.array([shape * np.log(12.0 / scale), 0.0, np.log(shape), 30.0])
    now, _, ahead = running_chances(data, parameters, np.ones(hours.size, dtype=bool), np.array([300.0]))
    assert now.max() == pytest.approx(0.0, abs=1e-9)
    assert ahead[:, 0].sum() == pytest.approx(5.057, abs=0.01)


def still_running(months: np.ndarray, silent_for: np.ndarray, gap: np.ndarray | None = None) -> LooseningData:
    """Hubs that run, each on a shaft of its own, with no word for some months."""
    size = months.size
    no = np.zeros(size, dtype=bool)
    told = SilentHistories(
        left=months, right=np.full(size, np.inf), entry=np.zeros(size),
        silent_from=np.where(silent_for > 0, months - silent_for, np.nan), last_word=months - silent_for,
        failed=no, unasked=no, asked=no, shaft=np.arange(size),
    )  # fmt: skip
    nodes = np.zeros((size, 1, 1)) if gap is None else gap[..., None]
    return LooseningData.of(told, nodes, np.zeros((size, 0)))


def test_chances_are_those_of_direct_integration() -> None:
    # every history drawn from the law: gap, time to failure, report; kept where it is as silent as what is known
    rng = np.random.default_rng(20260305)
    level, slope, shape, reported = -1.0, 0.6, 1.4, 0.7
    word, now, ahead = 4.0, 20.0, 6.0
    gaps = np.array([[-1.0, 0.0, 1.5, 2.0]])
    data = still_running(np.array([now]), np.array([now - word]), gaps)
    parameters = np.array([level, slope, np.log(shape), np.log(reported / (1 - reported))])
    loose, _, coming = running_chances(data, parameters, np.array([True]), np.array([ahead]))
    gap = rng.choice(gaps[0], 400_000)
    hazard = np.exp(level + slope * gap)
    time = 12.0 * (rng.exponential(size=gap.size) / hazard) ** (1 / shape)
    said = rng.random(gap.size) < reported
    silent = (time > word) & ((time > now) | ~said)
    assert loose[0] == pytest.approx(np.mean(time[silent] <= now), abs=0.003)
    assert coming[0, 0] == pytest.approx(np.mean((time[silent] > now) & (time[silent] <= now + ahead)), abs=0.003)


def test_days_after_the_records_end_are_no_silence() -> None:
    # histories drawn one by one: silent from the last word to the end of the records, and after that nothing is known
    rng = np.random.default_rng(20261129)
    level, slope, shape, reported = -1.0, 0.6, 1.4, 0.7
    word, end, now, ahead = 4.0, 12.0, 20.0, 6.0
    gaps = np.array([[-1.0, 0.0, 1.5, 2.0]])
    data = replace(still_running(np.array([end]), np.array([end - word]), gaps), now=np.array([now]))
    parameters = np.array([level, slope, np.log(shape), np.log(reported / (1 - reported))])
    loose, since, coming = running_chances(data, parameters, np.array([True]), np.array([ahead]))
    hazard = np.exp(level + slope * rng.choice(gaps[0], 400_000))
    time = 12.0 * (rng.exponential(size=hazard.size) / hazard) ** (1 / shape)
    said = rng.random(hazard.size) < reported
    alike = (time > word) & ((time > end) | ~said)
    assert loose[0] == pytest.approx(np.mean(time[alike] <= now), abs=0.003)
    assert since[0] == pytest.approx(np.mean((time[alike] > end) & (time[alike] <= now)), abs=0.003)
    assert coming[0, 0] == pytest.approx(np.mean((time[alike] > now) & (time[alike] <= now + ahead)), abs=0.003)
    # asked nobody: known are those reported since the end, which wait, and those reported when they come
    told = Predicted(
        loose_now=loose[None], since_end=since[None], ahead=coming[None], months=np.array([ahead]),
        reported=np.array([reported]),
    )  # fmt: skip
    known = (time > end) & (time <= now + ahead) & said
    assert told.known_by(0, np.zeros((1, 1)))[0, 0] == pytest.approx(np.mean(known[alike]), abs=0.003)


@given(chance=st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_law_of_the_number_is_that_of_brute_force(chance: list[float]) -> None:
    law = np.ones(1)
    for each in chance:
        law = np.convolve(law, [1 - each, each])
    found = count_chances(np.array(chance))
    assert found == pytest.approx(law[: found.size], abs=1e-9)
    assert law[found.size :].sum() <= 1e-9


def test_equal_chances_are_binomial() -> None:
    law = count_chances(np.full(400, 0.01))
    assert law[:12] == pytest.approx(stats.binom.pmf(np.arange(12), 400, 0.01), abs=1e-10)


def test_uncertain_chances_mix_their_laws() -> None:
    rows = np.array([[0.1, 0.2, 0.3], [0.8, 0.8, 0.8]])
    mixed = count_chances(rows)
    assert mixed == pytest.approx((count_chances(rows[0])[: mixed.size] + count_chances(rows[1])[: mixed.size]) / 2)


def test_very_many_are_normal_and_close_to_the_exact_law() -> None:
    rng = np.random.default_rng(20260306)
    chance = rng.uniform(0, 0.1, (1, 3000))
    exact = count_interval(count_chances(chance), level=0.90)
    low, high = many_interval(chance.sum(axis=1), (chance * (1 - chance)).sum(axis=1), level=0.90, rng=rng)
    assert low == pytest.approx(exact[0], abs=3)
    assert high == pytest.approx(exact[1], abs=3)
    told = count_estimate(chance, told="x", rng=rng)
    assert told.value == pytest.approx(chance.sum())


@pytest.mark.parametrize("asked", [0.05, 0.84, 3.0])
def test_chance_to_become_known_is_that_of_drawn_questions(asked: float) -> None:
    # a failure at any moment of the time ahead, questions at a steady rate: known where reported or asked after it
    rng = np.random.default_rng(20260307)
    size, reported, new, already = 400_000, 0.4, 0.3, 0.2
    state = rng.choice(3, size, p=[1 - new - already, new, already])
    fails, last = rng.random(size), 1.0 - rng.exponential(1 / asked, size)
    known = ((state == 1) & ((rng.random(size) < reported) | (last > fails))) | ((state == 2) & (last > 0))
    told = Predicted(
        loose_now=np.array([[already]]),
        since_end=np.zeros((1, 1)),
        ahead=np.array([[[new]]]),
        months=np.array([3.0]),
        reported=np.array([reported]),
    )
    assert told.known_by(0, np.array([[-np.expm1(-asked)]]))[0, 0] == pytest.approx(known.mean(), abs=0.003)


def test_what_failures_cost_against_the_law_of_all_their_sets() -> None:
    # twelve hubs of two prices: every set of failures with its chance, one by one
    rng = np.random.default_rng(20261126)
    chance, price = rng.uniform(0.05, 0.5, 12), np.where(np.arange(12) % 3, 700.0, 1900.0)
    sets = (np.arange(2**12)[:, None] >> np.arange(12)) & 1
    mass = np.prod(np.where(sets == 1, chance, 1 - chance), axis=1)
    cost = sets @ price
    order = np.argsort(cost, kind="stable")
    total = np.cumsum(mass[order])
    low, high = cost[order][np.searchsorted(total, [0.05, 0.95])]
    told = cost_estimate(np.tile(chance, (2000, 1)), price, level=0.90, rng=rng)
    assert told.value == pytest.approx(mass @ cost)
    assert told.low == pytest.approx(low, abs=200)
    assert told.high == pytest.approx(high, abs=200)


def test_what_is_held_beside_the_gap_moves_the_level() -> None:
    months, silent = np.array([20.0, 9.0, 30.0]), np.array([16.0, 0.0, 5.0])
    gaps = np.array([[-1.0, 0.0, 1.5, 2.0]] * 3)
    data = still_running(months, silent, gaps)
    beside = np.array([[0.4, -1.0], [0.4, -1.0], [0.4, -1.0]])
    effects = np.array([0.7, 0.3])
    with_effects = np.concatenate([[-1.0, 0.6], effects, [np.log(1.4), 0.8]])
    moved = np.array([-1.0 + beside[0] @ effects, 0.6, np.log(1.4), 0.8])
    ahead, runs = np.array([3.0, 12.0]), np.ones(3, dtype=bool)
    found = running_chances(replace(data, covariates=beside), with_effects, runs, ahead)
    for one, other in zip(found, running_chances(data, moved, runs, ahead), strict=True):
        assert one == pytest.approx(other)


def test_hubs_come_off_between_the_records_end_and_now_too() -> None:
    fleet = draw_fleet(150, np.random.default_rng(3))
    fit = fit_loosening(fleet.histories, fleet.gaps)
    later = replace(fit.data, now=fit.data.right + 8.0)
    asked: dict[str, Any] = {"data": later, "months": np.array([6.0]), "draws": 3}
    plain, gone = (
        predict(fit, fleet.running, leaving=leaving, rng=np.random.default_rng(1), **asked) for leaving in (0.0, 0.02)
    )
    assert gone.since_end == pytest.approx(plain.since_end * np.exp(-0.02 * 4.0))
    assert gone.ahead == pytest.approx(plain.ahead * np.exp(-0.02 * (8.0 + 3.0)))
    assert gone.loose_now - gone.since_end == pytest.approx(plain.loose_now - plain.since_end)
