"""Methods on the same shafts: what is told, what is refused, and that a known difference is found."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.silent_fleet import SilentFleet
from tests.analysis.support.worn_fleet import WornFleet
from wearstats.analysis.methods.doubly_robust import standardise
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.methods.standardised_risk import (
    LikeShafts,
    _risk,
    _unlike,
    compare_like_shafts,
    take_histories,
    take_replicates,
)
from wearstats.analysis.rates.two_by_two import wilson
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates
from wearstats.analysis.survival.group_risks import fit_groups, risk_difference
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.domain.arrays import BoolArray

FLEET = WornFleet(fittings=400)


def _compare(frame: pd.DataFrame, covariates: pd.DataFrame, supplied: BoolArray, seed: int = 1) -> LikeShafts:
    told = SilentHistories.from_frame(frame)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, replicates=80, rng=np.random.default_rng(seed))
    return compare_like_shafts(told, supplied, covariates, silence, replicates, months=12.0)


@pytest.fixture(scope="module")
def drawn() -> tuple[pd.DataFrame, pd.DataFrame, BoolArray]:
    return FLEET.draw(np.random.default_rng(31))


@pytest.fixture(scope="module")
def like(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray]) -> LikeShafts:
    return _compare(*drawn)


def test_weights_make_the_groups_alike(like: LikeShafts) -> None:
    balance = like.balance.set_index("covariate")
    assert balance["before"].abs().max() > 0.4
    assert balance["after"].abs().max() < 0.15
    assert like.weight.min() >= 1
    # each group stands for all
    assert like.weight[like.first].sum() == pytest.approx(400, rel=0.15)
    assert like.weight[~like.first].sum() == pytest.approx(400, rel=0.15)
    assert all(5 < number < 400 for number in like.effective)


def test_difference_and_ratio_belong_to_the_two_risks(like: LikeShafts) -> None:
    one, other = like.first_risk, like.second_risk
    assert one.value is not None
    assert other.value is not None
    assert like.difference.value == pytest.approx(one.value - other.value)
    assert like.ratio.value == pytest.approx(one.value / other.value)
    for told in (one, other, like.difference, like.ratio):
        assert told.status == "ok"
        assert (told.low or -1) < (told.value or 0) < (told.high or 2)
    # one leaves out what the other does
    assert ((like.difference.low or 0) > 0) == ((like.ratio.low or 0) > 1)


def test_a_large_fleet_gives_the_truth_back_where_the_plain_comparison_is_wrong() -> None:
    fleet = dataclasses.replace(FLEET, fittings=6000)
    frame, covariates, supplied = fleet.draw(np.random.default_rng(32))
    told = _compare(frame, covariates, supplied)
    first, second = fleet.risks()
    # standard error about 0.012
    assert told.difference.value == pytest.approx(first - second, abs=0.04)
    assert told.weighted_difference.value == pytest.approx(first - second, abs=0.04)
    assert told.line_difference.value == pytest.approx(first - second, abs=0.04)
    histories = SilentHistories.from_frame(frame)
    silence = fit_silence(histories)
    replicates = draw_replicates(histories, silence, replicates=20, rng=np.random.default_rng(1))
    groups = fit_groups(
        histories, {"supplied": supplied, "hand": ~supplied}, silence, replicates, months=np.array([12.0])
    )
    crude = risk_difference(groups["supplied"], groups["hand"], 12.0).value
    assert crude is not None
    assert crude < first - second - 0.02


def test_with_nothing_to_hold_it_is_the_plain_comparison(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray]) -> None:
    frame, _, supplied = drawn
    nothing = pd.DataFrame({"nothing": np.zeros(len(frame))})
    told = _compare(frame, nothing, supplied)
    histories = SilentHistories.from_frame(frame)
    silence = fit_silence(histories)
    replicates = draw_replicates(histories, silence, replicates=80, rng=np.random.default_rng(1))
    groups = fit_groups(
        histories, {"supplied": supplied, "hand": ~supplied}, silence, replicates, months=np.array([12.0])
    )
    crude = risk_difference(groups["supplied"], groups["hand"], 12.0)
    assert told.difference.value == pytest.approx(crude.value, abs=1e-4)
    assert told.difference.low == pytest.approx(crude.low, abs=0.02)


def test_methods_kept_apart_by_wear_are_not_compared() -> None:
    frame, covariates, _ = FLEET.draw(np.random.default_rng(33))
    supplied = covariates["read_um"].lt(30).to_numpy()
    told = _compare(frame, covariates, supplied)
    assert told.difference.status == told.ratio.status == told.first_risk.status == "none"
    assert told.difference.code == MethodsRemark.HARDLY_EVER
    assert told.std_error is None
    assert len(told.balance) == covariates.shape[1]


def test_one_method_in_each_pattern_is_not_compared() -> None:
    frame, covariates, supplied = FLEET.draw(np.random.default_rng(34))
    told = _compare(frame, covariates.assign(pattern=supplied.astype(float)), supplied)
    assert told.difference.status == "none"


def test_too_few_of_one_method_and_too_short_a_record(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray]) -> None:
    frame, covariates, _ = drawn
    few = _compare(frame, covariates, np.arange(len(frame)) < 12)
    assert few.difference.code == MethodsRemark.TOO_FEW
    told = SilentHistories.from_frame(frame)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, replicates=5, rng=np.random.default_rng(1))
    supplied = np.arange(len(frame)) % 2 == 0
    far = compare_like_shafts(told, supplied, covariates, silence, replicates, months=60.0)
    assert far.difference.code == MethodsRemark.NOT_FOLLOWED


def test_no_failure_in_one_group_has_a_difference_and_no_ratio() -> None:
    fleet = WornFleet(fittings=200, log_ratio_supplied=25.0, risk_hand=1e-12, log_ratio_per_10_um=0.0)
    frame, covariates, supplied = fleet.draw(np.random.default_rng(35))
    assert not frame.loc[~supplied, "outcome"].eq("failed").any()
    told = _compare(frame, covariates, supplied)
    if frame["outcome"].eq("failed").any():
        assert told.ratio.status == "none"
        assert told.second_risk.value == 0.0
        assert (told.second_risk.high or 0) > 0


def test_where_silence_is_not_told_it_says_so() -> None:
    fleet = WornFleet(fittings=300, follow_up=SilentFleet(silent_share=1.0, removed_a_month=1e-9))
    told = _compare(*fleet.draw(np.random.default_rng(36)))
    assert told.difference.status == "assumed"


def test_some_fittings_are_taken_in_histories_and_draws(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray]) -> None:
    told = SilentHistories.from_frame(drawn[0])
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, replicates=5, rng=np.random.default_rng(1))
    chosen = drawn[2]
    assert len(take_histories(told, chosen)) == chosen.sum()
    assert take_replicates(replicates, chosen).weight.shape == (5, chosen.sum())


def test_same_seed_same_answer(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray], like: LikeShafts) -> None:
    assert _compare(*drawn).difference == like.difference
    assert _compare(*drawn, seed=2).difference != like.difference


def test_a_risk_that_lines_put_over_one_is_one(drawn: tuple[pd.DataFrame, pd.DataFrame, BoolArray]) -> None:
    silence = fit_silence(SilentHistories.from_frame(drawn[0]))
    spread = 0.9 + 0.05 * np.random.default_rng(1).standard_normal(200)
    for value, told in ((1.2, 1.0), (-0.1, 0.0), (0.9, 0.9)):
        found = _risk(value, spread, 40.0, silence, 0.95)
        assert found.value == told
        # the score interval on as many as would scatter so, at most 40
        effective = min(told * (1 - told) / float(np.var(spread, ddof=1)), 40.0)
        low, high = wilson(told * effective, effective).low, wilson(told * effective, effective).high
        assert (found.low, found.high) == pytest.approx((low, high), nan_ok=True)


def test_fittings_that_hardly_ever_get_the_other_way_are_counted_in_both_groups() -> None:
    # 60 of 400 always get the first way by what is known of them, the others either way alike: 15 in 100 stand alone
    marked = np.arange(400) < 60
    first = marked | (np.arange(400) % 2 == 0)
    design = standardise(marked.astype(float)[:, None])
    for chosen in (first, ~first):
        why = _unlike(design, chosen, pd.Index(["marked"]))
        assert why is not None
        assert why.code == MethodsRemark.HARDLY_EVER
        assert why.facts["percent"] == pytest.approx(15.0)
    # 30 of them are too few to matter for that
    few = np.arange(400) < 30
    why = _unlike(standardise(few.astype(float)[:, None]), few | (np.arange(400) % 2 == 0), pd.Index(["marked"]))
    assert why is None or why.code != MethodsRemark.HARDLY_EVER
