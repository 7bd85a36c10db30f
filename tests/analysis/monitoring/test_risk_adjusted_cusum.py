"""Limits that move with what is expected: false alarms as often as wanted, whatever the fleet does later."""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.support.fixed_limits import cumulate
from wearstats.analysis.monitoring.risk_adjusted_cusum import _EXACT, _Law, watch_with_moving_limits

GAIN = np.log(2.0)


def limits(expected: np.ndarray, wanted: float) -> tuple[np.ndarray, np.ndarray]:
    # nothing seen: no alarm, so that the limits run through
    found = watch_with_moving_limits(np.zeros(expected.size), expected, -expected, odds_ratio=2.0, wanted=wanted)
    return found.limit, found.chance


@pytest.mark.parametrize("grown", [np.full(30, 3.0), np.linspace(0.3, 12.0, 30), np.full(30, 90.0)])
def test_false_alarms_come_as_often_as_is_told_at_every_step(grown: np.ndarray) -> None:
    # by simulation, apart from the grid
    rng = np.random.default_rng(1)
    limit, chance = limits(grown, 20.0)
    seen = rng.poisson(grown, (40_000, grown.size))
    running = np.ones(len(seen), dtype=bool)
    total = np.zeros(len(seen))
    for step in range(grown.size):
        total = np.maximum(total + seen[:, step] * GAIN - grown[step], 0.0)
        over = running & (total >= limit[step])
        rate, error = over.sum() / running.sum(), np.sqrt(0.05 / running.sum())
        assert rate == pytest.approx(chance[step], abs=4 * error + 0.004)
        running &= ~over
    assert (chance <= 0.05 + 1e-12).all()


def test_the_doubt_of_a_law_is_in_its_limits() -> None:
    # what is expected is off by a gamma factor, drawn anew for every step; apart from the grid
    rng = np.random.default_rng(2)
    expected, doubt = np.full(12, 8.0), np.full(12, 10.0)
    counts = {"without": np.zeros(12), "with": doubt}
    told = {
        name: watch_with_moving_limits(np.zeros(12), expected, -expected, doubt=each, odds_ratio=2.0, wanted=20.0)
        for name, each in counts.items()
    }
    seen = rng.poisson(rng.gamma(expected**2 / doubt, doubt / expected, (40_000, 12)))
    for name, found in told.items():
        running, total, alarms = np.ones(len(seen), dtype=bool), np.zeros(len(seen)), 0
        for step in range(12):
            total = np.maximum(total + seen[:, step] * GAIN - expected[step], 0.0)
            over = running & (total >= found.limit[step])
            if name == "with":
                error = np.sqrt(0.05 / running.sum())
                assert over.sum() / running.sum() == pytest.approx(found.chance[step], abs=4 * error + 0.004)
            alarms += int(over.sum())
            running &= ~over
        stated = 1.0 - np.prod(1.0 - found.chance)
        assert (alarms / len(seen) < 1.05 * stated) == (name == "with")
    assert (told["with"].limit > told["without"].limit).all()


def test_a_doubt_of_next_to_nothing_is_none() -> None:
    expected = np.array([0.4, 2.0, 30.0])
    none, least = (
        watch_with_moving_limits(
            np.zeros(3), expected, -expected, doubt=np.full(3, each), odds_ratio=2.0, wanted=20.0
        ).limit
        for each in (0.0, 1e-9)
    )
    assert least == pytest.approx(none)


def test_a_limit_hangs_on_nothing_later() -> None:
    short, long = np.full(8, 4.0), np.concatenate([np.full(8, 4.0), np.full(20, 9.0)])
    seen = np.array([4.0, 3, 9, 10, 4, 5, 3, 4])
    one = watch_with_moving_limits(seen, short, -short, odds_ratio=2.0, wanted=40.0)
    other = watch_with_moving_limits(np.concatenate([seen, np.full(20, 9.0)]), long, -long, odds_ratio=2.0, wanted=40.0)
    assert one.alarms == other.alarms[: len(one.alarms)]
    assert one.alarms
    # the grid is laid for the largest number expected: a little coarser, no more
    assert other.limit[:8] == pytest.approx(one.limit, abs=0.06)


def test_after_an_alarm_it_starts_again() -> None:
    expected = np.full(12, 3.0)
    seen = np.array([3.0, 9, 9, 3, 3, 3, 3, 9, 10, 3, 3, 3])
    found = watch_with_moving_limits(seen, expected, -expected, odds_ratio=2.0, wanted=20.0)
    assert len(found.alarms) >= 2
    first = found.alarms[0]
    assert found.value[first.step] >= found.limit[first.step]
    assert found.value[first.step + 1] == pytest.approx(max(seen[first.step + 1] * GAIN - 3.0, 0.0))
    assert first.ratio == pytest.approx(
        seen[first.since : first.step + 1].sum() / (3.0 * (first.step - first.since + 1))
    )


def test_without_an_alarm_the_sum_is_the_plain_one() -> None:
    rng = np.random.default_rng(2)
    expected = rng.uniform(1.0, 5.0, 20)
    seen = np.floor(expected)
    found = watch_with_moving_limits(seen, expected, -expected, odds_ratio=2.0, wanted=40.0)
    assert not found.alarms
    assert found.value == pytest.approx(cumulate(seen * GAIN - expected))


@pytest.mark.parametrize("runs", [50, pytest.param(200, marks=pytest.mark.slow)])
def test_twice_as_many_are_found_soon(runs: int) -> None:
    rng = np.random.default_rng(3)
    expected = np.full(40, 6.0)
    steps = []
    for _ in range(runs):
        seen = rng.poisson(2.0 * expected).astype(float)
        found = watch_with_moving_limits(seen, expected, -expected, odds_ratio=2.0, wanted=40.0)
        steps.append(found.alarms[0].step + 1)
    assert np.mean(steps) < 4


def test_nothing_expected_is_no_alarm() -> None:
    found = watch_with_moving_limits(np.zeros(3), np.zeros(3), np.zeros(3), odds_ratio=2.0, wanted=40.0)
    assert not found.alarms
    assert found.false_alarm_steps >= 40


def test_sums_that_are_put_together_keep_their_chance_and_their_mean() -> None:
    rng = np.random.default_rng(3)
    law = _Law(2.0, 4.0)
    # up to ten standard deviations of a step
    sums = np.sort(rng.uniform(0.0, 10 * 2 * GAIN, 3 * _EXACT))
    chance = rng.dirichlet(np.full(sums.size, 0.3))
    fewer, shared = law._fewer(sums, chance)
    assert fewer.size < sums.size
    assert np.all(np.diff(fewer) > 0)
    assert shared.sum() == pytest.approx(1.0)
    assert fewer @ shared == pytest.approx(sums @ chance)
    # the likeliest stay as they are
    likeliest = np.argsort(-chance)[:20]
    assert np.isin(np.round(sums[likeliest], 9), np.round(fewer, 9)).all()
    # a few are left alone
    few = law._fewer(sums[:5], chance[:5])
    assert few[0] == pytest.approx(sums[:5])
