"""Weights, outcome lines and both together, against a published analysis and a second library."""

import numpy as np
import pandas as pd
import pytest
from sklearn.linear_model import LinearRegression, LogisticRegression

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.methods.doubly_robust import (
    compare_means,
    effective_number,
    fit_chances,
    fit_lines,
    imbalance,
    inverse_weights,
    standardise,
)

TINY = 1e-8


@pytest.fixture(scope="module")
def smokers() -> pd.DataFrame:
    return reference_frame("smoking_cessation.csv")


@pytest.fixture(scope="module")
def design(smokers: pd.DataFrame) -> np.ndarray:
    """The book's covariates: sex, race, schooling, exercise and activity by class, the rest with their squares."""
    marks = [
        pd.get_dummies(smokers[name].astype(int), drop_first=True, dtype=float)
        for name in ("education", "exercise", "active")
    ]
    numbers = smokers[["age", "smokeintensity", "smokeyrs", "wt71"]]
    return standardise(pd.concat([smokers[["sex", "race"]], *marks, numbers, numbers**2], axis=1).to_numpy(dtype=float))


def test_plain_difference(smokers: pd.DataFrame) -> None:
    # chapter 12: 4.5 kg against 2.0 kg
    stopped = smokers["qsmk"].to_numpy() == 1
    nothing = np.zeros((len(smokers), 1))
    plain = compare_means(smokers["wt82_71"].to_numpy(), nothing, stopped, fit_chances(nothing, stopped))
    assert plain.difference[0] == pytest.approx(2.5406, abs=5e-5)
    assert (plain.first[0], plain.second[0]) == pytest.approx((4.5, 2.0), abs=0.05)


def test_weights(smokers: pd.DataFrame, design: np.ndarray) -> None:
    # chapter 12: unstabilised weights with mean 2.00 between 1.05 and 16.70, difference 3.44 kg
    stopped = smokers["qsmk"].to_numpy() == 1
    chance = fit_chances(design, stopped, penalty=TINY)
    weight = inverse_weights(chance, stopped)[0]
    assert (weight.mean(), weight.min(), weight.max()) == pytest.approx((2.00, 1.05, 16.70), abs=5e-3)
    told = compare_means(smokers["wt82_71"].to_numpy(), design, stopped, chance, penalty=TINY)
    assert told.weighted[0] == pytest.approx(3.4405, abs=5e-5)
    assert 3.3 < told.difference[0] < 3.5
    assert np.abs(imbalance(design, stopped, weight)).max() < 0.1 < np.abs(
        imbalance(design, stopped, np.ones(len(design)))
    ).max()  # fmt: skip


def test_outcome_line_read_off_for_everybody(smokers: pd.DataFrame, design: np.ndarray) -> None:
    # chapter 13: 3.5 kg (3.5174) from one line with a product of stopping and cigarettes a day, on a file three times
    # as long whose copies carry no weight, all stopped and none stopped
    n = len(smokers)
    way = np.concatenate([smokers["qsmk"].to_numpy(dtype=float), np.ones(n), np.zeros(n)])[:, None]
    daily = np.tile(smokers["smokeintensity"].to_numpy(dtype=float), 3)[:, None]
    long = np.column_stack([way, way * daily / 20, np.tile(design, (3, 1))])
    weight = np.concatenate([np.ones(n), np.zeros(2 * n)])[None, :]
    read = fit_lines(long, np.tile(smokers["wt82_71"].to_numpy(), 3), weight, penalty=TINY)[0]
    assert read[n : 2 * n].mean() - read[2 * n :].mean() == pytest.approx(3.5174, abs=5e-5)


def test_lines_apart_in_each_group_agree_with_a_second_library(smokers: pd.DataFrame, design: np.ndarray) -> None:
    stopped, gained = smokers["qsmk"].to_numpy() == 1, smokers["wt82_71"].to_numpy()
    told = compare_means(gained, design, stopped, fit_chances(design, stopped, penalty=TINY), penalty=TINY)
    means = [
        float(LinearRegression().fit(design[group], gained[group]).predict(design).mean())
        for group in (stopped, ~stopped)
    ]
    assert told.outcome_line[0] == pytest.approx(means[0] - means[1], abs=1e-6)


@pytest.mark.parametrize("penalty", [0.1, 1.0, 10.0])
def test_chances_agree_with_a_second_library(smokers: pd.DataFrame, design: np.ndarray, penalty: float) -> None:
    stopped = smokers["qsmk"].to_numpy() == 1
    drawn = np.random.default_rng(5).multinomial(len(design), np.full(len(design), 1 / len(design)), 3).astype(float)
    found = fit_chances(design, stopped, weight=drawn, penalty=penalty)
    for own, times in zip(found, drawn, strict=True):
        model = LogisticRegression(C=1 / penalty, solver="newton-cholesky", tol=1e-10, max_iter=200)
        other = model.fit(design, stopped, sample_weight=times).predict_proba(design)[:, 1]
        assert own == pytest.approx(other, abs=1e-6)


def test_experiment_by_lot() -> None:
    # LaLonde (1986), Dehejia and Wahba (1999): difference of mean earnings 1794.34
    people = reference_frame("work_experiment.csv")
    treated = people["treat"].to_numpy() == 1
    nothing = np.zeros((len(people), 1))
    plain = compare_means(people["re78"].to_numpy(), nothing, treated, fit_chances(nothing, treated))
    assert plain.difference[0] == pytest.approx(1794.34, abs=5e-3)
    # by lot, what was known beforehand changes little: within a third of the standard error of about 670
    known = standardise(people[["age", "educ", "black", "hisp", "marr", "nodegree", "re74", "re75"]].to_numpy(float))
    like = compare_means(people["re78"].to_numpy(), known, treated, fit_chances(known, treated))
    assert like.difference[0] == pytest.approx(1794.34, abs=220)


def test_either_the_chances_or_the_lines_may_be_wrong() -> None:
    # truth 1; means over a large sample, so that what is left is bias
    rng = np.random.default_rng(11)
    x = rng.standard_normal((200_000, 1))
    first = rng.random(len(x)) < 1 / (1 + np.exp(1.0 - x[:, 0]))
    bent = np.exp(x[:, 0])
    chance, nothing = fit_chances(x, first), np.full((1, len(x)), first.mean())
    lines_wrong = compare_means(first.astype(float) + bent, x, first, chance)
    chances_wrong = compare_means(first.astype(float) + x[:, 0], x, first, nothing)
    assert abs(lines_wrong.outcome_line[0] - 1) > 0.3
    assert lines_wrong.difference[0] == pytest.approx(1, abs=0.05)
    assert abs(chances_wrong.weighted[0] - 1) > 0.5
    assert chances_wrong.difference[0] == pytest.approx(1, abs=0.02)


def test_what_never_varies_and_what_only_one_group_has_are_survived() -> None:
    first = np.arange(40) < 20
    only_first = np.column_stack([np.ones(40), np.where(np.arange(40) < 5, 1.0, 0.0)])
    chance = fit_chances(standardise(only_first), first)
    assert np.all((chance > 0) & (chance < 1))
    assert chance[0, 0] > 0.8
    assert effective_number(np.zeros(3)) == 0.0
    assert effective_number(np.array([1.0, 1.0, 2.0])) == pytest.approx(16 / 6)


def test_covariates_are_counted_from_their_means_in_standard_deviations() -> None:
    given = np.array([[1.0, 5.0, 2.0], [3.0, 5.0, 2.0], [5.0, 5.0, 8.0]])
    told = standardise(given)
    assert told[:, [0, 2]] == pytest.approx((given - given.mean(axis=0))[:, [0, 2]] / given.std(axis=0)[[0, 2]])
    # one that does not vary says nothing
    assert told[:, 1].tolist() == [0.0, 0.0, 0.0]
