"""How owners answer is learnt where it is known how they do."""

import numpy as np
import pytest
from scipy import integrate, stats

from wearstats.analysis.answers.model import _climb, draw_last_answers
from wearstats.analysis.answers.records import AnswerRecords

ENDS = np.array([3.0, 12.0])


def records(asked: np.ndarray, age: np.ndarray, owner: np.ndarray | None = None) -> AnswerRecords:
    """Give hubs of so many months, each answered for so many months after it went into use; infinite where not."""
    hub, which = np.nonzero(asked <= age[:, None])
    return AnswerRecords(
        owner=np.arange(age.size) if owner is None else owner,
        start=-age,
        stop=np.zeros(age.size),
        hub=hub.astype(np.int64),
        month=asked[hub, which] - age[hub],
    )


def known_share(asked: np.ndarray, age: np.ndarray, end: float) -> float:
    return float(((asked > age[:, None]) & (asked <= age[:, None] + end)).any(axis=1).mean())


@pytest.mark.parametrize("silent", [0.0, 0.3, 0.7])
@pytest.mark.parametrize("spread", [0.05, 0.4])
def test_the_share_that_answers_is_foretold(silent: float, spread: float) -> None:
    rng = np.random.default_rng(20261130)
    n = 3000
    age = rng.uniform(0.5, 36.0, n)
    asked = np.cumsum(6.0 * rng.uniform(1 - spread, 1 + spread, (n, 20)), axis=1)
    asked = np.where((rng.random(n) >= silent)[:, None] & (rng.random(asked.shape) < 0.9), asked, np.inf)
    told = draw_last_answers(records(asked, age), np.ones(n, dtype=bool), ends=ENDS, draws=40, rng=rng)
    for time, end in enumerate(ENDS):
        assert told.answering(time).mean() == pytest.approx(known_share(asked, age, end), abs=0.03)
    # a failure at any moment of the year, answered for after it
    fails = age + 12.0 * rng.random(n)
    after = ((asked > fails[:, None]) & (asked <= age[:, None] + 12.0)).any(axis=1).mean()
    assert told.after(1, 12.0).mean() == pytest.approx(after, abs=0.03)


def test_rounds_are_found_and_the_next_comes_when_it_should() -> None:
    rng = np.random.default_rng(20261201)
    n = 800
    age = rng.uniform(0.5, 36.0, n)
    # the last round was two months ago, the next comes in four
    rounds = np.arange(-38.0, 12.0, 6.0)
    asked = np.where(rng.random((n, rounds.size)) < 0.7, rounds + age[:, None], np.inf)
    asked = np.where(asked > 0, asked, np.inf)
    asked[rng.random(n) < 0.3] = np.inf
    found = records(asked, age)
    assert found.rounds() == pytest.approx(rounds[(rounds > -36) & (rounds < 0)], abs=0.02)
    told = draw_last_answers(found, np.ones(n, dtype=bool), ends=ENDS, draws=60, rng=rng)
    assert told.answering(0).sum() == 0
    assert told.answering(1).mean() == pytest.approx(known_share(asked, age, 12.0), abs=0.03)
    # without rounds in common there are none
    alone = np.cumsum(6.0 * rng.uniform(0.6, 1.4, (n, 12)), axis=1)
    assert records(alone, age).rounds() is None


def test_the_likelihood_of_an_owner_is_the_mean_over_all_owners() -> None:
    # one bin, one owner with two answers in five months: integrated numerically over the gamma law
    watched, heard, count, spread = np.array([[5.0], [7.0]]), np.array([2.0]), np.array([2.0, 0.0]), 2.0
    hazard, silent, value = _climb(watched, heard, count, spread)
    law = stats.gamma(spread, scale=1 / spread).pdf

    def mean(answers: float, months: float) -> float:
        return float(
            integrate.quad(lambda z: law(z) * (z * hazard[0]) ** answers * np.exp(-z * hazard[0] * months), 0, 60)[0]
        )

    direct = np.log((1 - silent) * mean(2, 5.0)) + np.log(silent + (1 - silent) * mean(0, 7.0))
    assert value == pytest.approx(direct, rel=1e-6)


def test_hubs_of_one_owner_answer_together() -> None:
    rng = np.random.default_rng(20261202)
    age = np.repeat(rng.uniform(1.0, 30.0, 200), 2)
    asked = np.repeat(np.cumsum(6.0 * rng.uniform(0.6, 1.4, (200, 12)), axis=1), 2, axis=0)
    owner = np.repeat(np.arange(200), 2)
    told = draw_last_answers(records(asked, age, owner), np.ones(400, dtype=bool), ends=ENDS, draws=10, rng=rng)
    assert (told.month[:, ::2] == told.month[:, 1::2]).all()


def test_nobody_answers_where_nobody_ever_did() -> None:
    rng = np.random.default_rng(1)
    told = draw_last_answers(
        records(np.full((5, 1), np.inf), np.full(5, 9.0)), np.ones(5, dtype=bool), ends=ENDS, draws=3, rng=rng
    )
    assert told.answering(1).shape == (3, 5)
    assert told.answering(1).sum() == 0
    assert told.after(1, 12.0).sum() == 0
