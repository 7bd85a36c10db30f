"""What senders knew beyond the readings in hand, learnt from sizes sent by senders whose knowledge is known."""

import numpy as np
import pytest
from scipy.optimize import check_grad

from wearstats.analysis.gaps.choice import (
    FEWEST_AGAIN,
    WORTH,
    WRONG_SHARE,
    Choices,
    PrivateKnowledge,
    _surprise,
    learn_knowledge,
    sizes_between,
)

SIZES = np.arange(0.0, 121.0, 20.0)
SCATTER = 8.0


def sent_by(worth: float, *, fittings: int = 600, again: int = 100, seed: int = 1) -> Choices:
    """Let senders choose who know a share of what the readings in hand missed."""
    rng = np.random.default_rng(seed)
    expected = rng.gamma(1.5, 20.0, fittings)
    variance = rng.choice([9.0, 49.0], fittings)
    beside = np.sqrt(variance) * rng.standard_normal(fittings)
    read = expected + 3 * rng.standard_normal(fittings)
    wanted = 2.0 + read + worth * beside + SCATTER * rng.standard_normal(fittings)
    sent = SIZES[np.abs(SIZES - wanted[:, None]).argmin(axis=1)]
    low, high = sizes_between(sent, np.tile(SIZES, (fittings, 1)))
    # another reading, with an error of its own, put together with those in hand
    noise = 4.0
    share = variance / (variance + noise**2)
    other = expected + share * (beside + noise * rng.standard_normal(fittings))
    there = np.arange(fittings) < again
    return Choices(
        low_um=low,
        high_um=high,
        expected_um=expected,
        variance_um2=variance,
        read_um=read,
        again_um=np.where(there, other, np.nan),
        again_variance_um2=np.where(there, variance * (1 - share), np.nan),
        groups=np.zeros((fittings, 0)),
    )


def learnt(choices: Choices) -> PrivateKnowledge:
    found = learn_knowledge(choices)
    assert found is not None
    return found


def test_sizes_reach_half_way_to_their_neighbours() -> None:
    offered = np.array([[0.0, 25.0, 50.0], [0.0, 25.0, 50.0], [0.0, 25.0, np.nan], [30.0, np.nan, np.nan]])
    low, high = sizes_between(np.array([25.0, 50.0, 0.0, 30.0]), offered)
    assert low.tolist() == [12.5, 37.5, -np.inf, -np.inf]
    assert high.tolist() == [37.5, np.inf, 12.5, np.inf]


def test_one_that_was_not_on_offer_reaches_to_the_sizes_about_it() -> None:
    low, high = sizes_between(np.array([130.0, 10.0]), np.tile(SIZES, (2, 1)))
    assert low.tolist() == [125.0, 5.0]
    assert high.tolist() == [np.inf, 15.0]


def test_who_knew_nothing_is_taken_for_that() -> None:
    found = [learnt(sent_by(0.0, seed=seed)) for seed in range(4)]
    assert np.mean([each.share[0] for each in found]) > 0.6
    assert np.mean([each.expected for each in found]) < 0.15
    assert learnt(sent_by(0.0, fittings=3000, again=3000)).used is False


@pytest.mark.parametrize("worth", [0.5, 1.0])
def test_who_knew_more_is_found_out(worth: float) -> None:
    found = learnt(sent_by(worth, fittings=3000, again=2000))
    low, high = found.ends()
    assert found.share[0] < 1e-6
    assert low - 0.125 <= worth <= high + 0.125
    assert found.expected == pytest.approx(worth, abs=0.12)
    assert found.scatter_um[np.abs(WORTH - worth).argmin()] == pytest.approx(SCATTER, rel=0.15)


def test_scatter_that_goes_with_doubt_is_no_knowledge() -> None:
    """Senders whose habit is looser where readings are poor know no more than others."""
    choices = sent_by(0.0, fittings=2000, again=0)
    again = sent_by(0.0, fittings=2000, again=200)
    rng = np.random.default_rng(3)
    wanted = choices.read_um + np.where(choices.variance_um2 > 20, 16.0, 4.0) * rng.standard_normal(2000)
    sent = SIZES[np.abs(SIZES - wanted[:, None]).argmin(axis=1)]
    low, high = sizes_between(sent, np.tile(SIZES, (2000, 1)))
    names = ("expected_um", "variance_um2", "read_um", "again_um", "again_variance_um2", "groups")
    looser = Choices(low_um=low, high_um=high, **{name: getattr(again, name) for name in names})
    assert learnt(looser).expected < 0.2


def test_too_few_measured_again_tell_nothing() -> None:
    assert learn_knowledge(sent_by(1.0, again=FEWEST_AGAIN - 1)) is None
    untold = sent_by(1.0)
    none = {"low_um": np.full(600, -np.inf), "high_um": np.full(600, np.inf)}
    kept = {name: getattr(untold, name) for name in untold.__slots__ if name not in none}
    assert learn_knowledge(Choices(**none, **kept)) is None


def test_the_derivative_is_the_likelihoods() -> None:
    choices = sent_by(0.7)
    told, design = np.ones(600, dtype=bool), choices.design

    def value(parameters: np.ndarray) -> float:
        return _surprise(parameters, choices, design, told, choices.again, 0.7)[0]

    def slope(parameters: np.ndarray) -> np.ndarray:
        return _surprise(parameters, choices, design, told, choices.again, 0.7)[1]

    at = np.array([1.0, 0.9, 0.8, np.log(9.0)])
    assert check_grad(value, slope, at) < 1e-3 * np.linalg.norm(slope(at))


def test_draws_are_weighed_as_the_normal_law_has_it() -> None:
    """Sizes without steps tell what was wanted, and the mean given it has a closed form."""
    wanted, expected, variance, worth, scatter = 45.0, 40.0, 36.0, 0.8, 6.0
    one = {"variance_um2": variance, "again_um": np.nan, "again_variance_um2": np.nan}
    lengths = {"low_um": wanted - 0.5, "high_um": wanted + 0.5, "expected_um": expected, "read_um": expected} | one
    choices = Choices(**{name: np.array([number]) for name, number in lengths.items()}, groups=np.zeros((1, 0)))
    knew = PrivateKnowledge(
        measured_again=10,
        worth=np.array([worth]),
        share=np.ones(1),
        line=np.array([[0.0, 1.0, 0.0]]),
        scatter_um=np.array([scatter]),
    )
    draws = expected + np.sqrt(variance) * np.random.default_rng(5).standard_normal((1, 200_000))
    weight = knew.weigh(choices, draws)
    assert weight.mean() == pytest.approx(1.0)
    gain = worth * variance / (worth**2 * variance + scatter**2)
    mean = expected + (1 - WRONG_SHARE) * gain * (wanted - expected)
    assert (weight * draws).mean() == pytest.approx(mean, abs=0.05)
    none = choices.take(np.array([0]))
    open_ends = {"low_um": np.array([-np.inf]), "high_um": np.array([np.inf])}
    rest = {name: getattr(none, name) for name in none.__slots__ if name not in open_ends}
    assert (knew.weigh(Choices(**open_ends, **rest), draws[:, :10]) == 1.0).all()
