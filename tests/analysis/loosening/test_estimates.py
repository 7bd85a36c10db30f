"""What the law says: found again on data with known truth, and what it says where there is little to go by."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.analysis.support.gap_fleet import GapFleet
from tests.estimate_ends import three
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.estimates import (
    chance_estimate,
    gap_at_risk,
    ratio_between_gaps,
    shape_estimate,
    slope_by_shafts,
    slope_estimate,
)
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening, robust_covariance
from wearstats.analysis.loosening.functional_form import compare_forms, hinge_term
from wearstats.analysis.loosening.ignorability import check_choice, with_choice_doubt
from wearstats.analysis.loosening.mediation import compare_at_gap
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.loosening.sensitivity import find_influence, vary_silence
from wearstats.analysis.loosening.validation import calibrate, hold_back, outcomes_by
from wearstats.analysis.methods.standardised_risk import take_histories
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.errors import AnalysisError

NONE = np.zeros((600, 0))


@cache
def big() -> tuple[SilentHistories, GapNodes, LooseningFit]:
    histories, gaps, _ = GapFleet(fittings=4000).draw(np.random.default_rng(1))
    return histories, gaps, fit_loosening(histories, gaps)


def test_truth_is_found_again() -> None:
    _, _, fit = big()
    assert fit.slope == pytest.approx(0.6, abs=0.08)
    assert fit.shape == pytest.approx(1.4, abs=0.1)
    assert fit.chance == pytest.approx(0.6, abs=0.05)
    risk, low, high = fit.risks(np.array([0.0, 20.0]), 12.0)
    truth = 1 - np.exp(np.log1p(-0.03) * np.exp([0.0, 1.2]))
    assert risk == pytest.approx(truth, rel=0.25)
    assert (low < truth).all()
    assert (truth < high).all()


def test_profile_intervals_agree_with_the_curvature_where_there_is_plenty() -> None:
    _, _, fit = big()
    slope = slope_estimate(fit)
    error = np.sqrt(fit.covariance[1, 1])
    assert slope.status == "ok"
    assert (slope.low, slope.high) == pytest.approx(
        (fit.slope - 1.96 * error, fit.slope + 1.96 * error), abs=0.1 * error
    )
    for estimate in (shape_estimate(fit), chance_estimate(fit)):
        low, value, high = three(estimate)
        assert low < value < high


def test_covariance_by_shafts_agrees_where_the_law_holds() -> None:
    _, _, fit = big()
    ratio = np.sqrt(np.diag(robust_covariance(fit)) / np.diag(fit.covariance))
    assert ratio == pytest.approx(np.ones(4), abs=0.12)


def test_interval_by_shafts_agrees_with_shafts_drawn_anew() -> None:
    histories, gaps, _ = GapFleet(fittings=800).draw(np.random.default_rng(12))
    fit = fit_loosening(histories, gaps)
    rng = np.random.default_rng(1)
    slopes = []
    for _ in range(80):
        rows = rng.integers(800, size=800)
        drawn = SilentHistories(
            **{name: getattr(histories, name)[rows] for name in SilentHistories.__slots__ if name != "shaft"},
            shaft=np.arange(800),
        )
        nodes = GapNodes(value_um=gaps.value_um[rows], shaft=np.arange(800))
        slopes.append(fit_loosening(drawn, nodes, start=fit.parameters).slope)
    low, _, high = three(slope_by_shafts(fit))
    assert high - low == pytest.approx(2 * 1.96 * np.std(slopes), rel=0.25)


def test_gap_at_the_limit_is_where_the_curve_crosses() -> None:
    _, _, fit = big()
    found = gap_at_risk(fit, months=12.0, limit=0.08, largest_um=60.0)
    assert found.status == "ok"
    assert fit.risks(np.array([found.value]), 12.0)[0] == pytest.approx([0.08], abs=1e-3)
    assert fit.risks(np.array([found.low]), 12.0)[2] == pytest.approx([0.08], abs=1e-3)
    assert fit.risks(np.array([found.high]), 12.0)[1] == pytest.approx([0.08], abs=1e-3)
    assert found.code == LooseningRemark.CROSSING
    assert found.method is not None
    assert found.method.facts == pytest.approx({"months": 12.0, "limit_percent": 8.0, "level_percent": 95.0})
    assert gap_at_risk(fit, months=12.0, limit=0.001, largest_um=60.0).status == "none"
    assert gap_at_risk(fit, months=12.0, limit=0.99, largest_um=60.0).status == "beyond-data"


def test_a_handful_of_failures_is_held_by_the_penalty_and_says_so() -> None:
    histories, gaps, _ = GapFleet(fittings=60, slope_per_10um=0.0, risk_at_no_gap=0.1).draw(np.random.default_rng(3))
    rows = np.flatnonzero(~histories.failed).tolist() + np.flatnonzero(histories.failed).tolist()[:1]
    few = SilentHistories(**{name: getattr(histories, name)[rows] for name in SilentHistories.__slots__})
    fit = fit_loosening(few, gaps.take(np.array(rows)))
    slope = slope_estimate(fit)
    assert fit.failures == 1
    low, _, high = three(slope)
    assert low < 0 < high
    assert fit.assumed_share(1) > 0.1


def test_complete_separation_is_wide_and_finite() -> None:
    n = 40
    gap = np.concatenate([np.full(20, 5.0), np.full(20, 40.0)])
    failed = gap > 20
    never = np.zeros(n, dtype=bool)
    histories = SilentHistories(
        left=np.where(failed, 3.0, 24.0), right=np.where(failed, 9.0, np.inf), entry=np.zeros(n),
        silent_from=np.full(n, np.nan), last_word=np.full(n, 9.0), failed=failed, unasked=failed, asked=never,
        shaft=np.arange(n),
    )  # fmt: skip
    slope = slope_estimate(fit_loosening(histories, GapNodes(value_um=gap[:, None], shaft=histories.shaft)))
    low, value, high = three(slope)
    assert np.isfinite([value, low, high]).all()
    assert low > 0.3
    assert high - low > 0.8


def test_without_a_failure_there_is_no_law() -> None:
    histories, gaps, _ = GapFleet(risk_at_no_gap=1e-12, slope_per_10um=0.0).draw(np.random.default_rng(1))
    with pytest.raises(AnalysisError, match="has worked loose"):
        fit_loosening(histories, gaps)


def test_a_threshold_is_seen_and_a_line_is_left_a_line() -> None:
    bent, gaps, _ = GapFleet(fittings=4000, slope_per_10um=1.6, threshold_um=25.0).draw(np.random.default_rng(5))
    fit = fit_loosening(bent, gaps)
    none = np.zeros((4000, 0))
    found = compare_forms(bent, gaps, fit, covariates=none, rng=np.random.default_rng(1))
    assert found is not None
    assert not found.straight
    assert found.threshold_um == pytest.approx(25.0, abs=7)
    assert found.threshold_gain > 2
    histories, gaps, line = big()
    found = compare_forms(histories, gaps, line, covariates=none, rng=np.random.default_rng(1))
    assert found is not None
    assert found.straight


def test_a_gap_matters_beyond_a_threshold_alone() -> None:
    assert hinge_term(25.0)(np.array([0.0, 20.0, 25.0, 32.0, 45.0]))[:, 0] == pytest.approx([0, 0, 0, 0.7, 2.0])


def test_silence_that_means_more_failures_raises_the_risk() -> None:
    _, _, fit = big()
    frame = vary_silence(fit, months=12.0, chances=(0.3, 0.9), silent_hazards=(1.0, 2.0)).frame
    assert frame["risk"].iloc[0] > frame["risk"].iloc[1]
    assert frame["risk"].iloc[3] > frame["risk"].iloc[2]
    # with the chance held where it was fitted, and silent hubs as others, it is the fit
    assert frame["slope"].iloc[2] == pytest.approx(fit.slope, abs=1e-4)
    assert frame["log_likelihood"].iloc[2] == pytest.approx(fit.penalised, abs=1e-4)
    assert frame["risk"].iloc[2] == pytest.approx(fit.fitting_risks(12.0).mean(), abs=1e-4)
    # and nothing held is likelier than what was fitted
    assert (frame["log_likelihood"].iloc[:2] < fit.penalised).all()


def test_held_back_shafts_are_predicted_better_with_the_gap() -> None:
    histories, gaps, _ = GapFleet(fittings=1500).draw(np.random.default_rng(6))
    silence = fit_silence(histories)
    found = hold_back(
        histories, gaps, silence, covariates=np.zeros((1500, 0)), months=12.0, rng=np.random.default_rng(1)
    )
    assert found is not None
    assert found.log_score_gain.low is not None
    assert found.log_score_gain.low > 0
    low, value, high = three(found.log_score_gain)
    assert high - value == pytest.approx(value - low)
    assert found.brier < found.brier_without_gap
    assert found.concordance is not None
    assert found.concordance > 0.6
    assert found.concordance_without_gap == pytest.approx(0.5, abs=0.06)


def test_weights_make_up_for_those_cut_off() -> None:
    # where nobody is silent, the weighed share of failures is the curve's
    histories, _, _ = GapFleet(fittings=4000, reported=1.0).draw(np.random.default_rng(7))
    silence = fit_silence(histories)
    known, weight = outcomes_by(histories, silence, 12.0)
    share = float((weight * known).sum() / weight.sum())
    assert share == pytest.approx(float(silence.curve.share_failed(np.array([12.0]))[0]), abs=0.02)


def test_risk_predicted_is_the_risk_that_happened() -> None:
    histories, gaps, _ = GapFleet(fittings=1500).draw(np.random.default_rng(8))
    fit, silence = fit_loosening(histories, gaps), fit_silence(histories)
    replicates = draw_replicates(histories, silence, rng=np.random.default_rng(1))
    frame = calibrate(fit, histories, silence, replicates, months=np.arange(0.0, 37.0), horizon=12.0, groups=5)
    assert frame["fittings"].sum() == 1500
    assert frame["predicted"].is_monotonic_increasing
    assert ((frame["low"] < frame["predicted"]) & (frame["predicted"] < frame["high"])).sum() >= 4


def test_fewer_fittings_than_groups_are_a_group_each() -> None:
    histories, gaps, _ = GapFleet().draw(np.random.default_rng(8))
    few = np.flatnonzero(histories.failed)[:2]
    told, known = take_histories(histories, np.isin(np.arange(len(histories)), few)), gaps.take(few)
    fit, silence = fit_loosening(told, known), fit_silence(told)
    replicates = draw_replicates(told, silence, rng=np.random.default_rng(1))
    frame = calibrate(fit, told, silence, replicates, months=np.arange(0.0, 37.0), horizon=12.0, groups=5)
    assert frame["group"].tolist() == [1, 2]
    assert frame["fittings"].tolist() == [1, 1]


def test_same_gap_parts_the_way_from_the_gap() -> None:
    for direct in (0.0, 0.8):
        histories, gaps, supplied = GapFleet(fittings=4000, supplied_log_hazard=direct).draw(np.random.default_rng(9))
        way = supplied.astype(float)[:, None]
        fit = fit_loosening(histories, gaps, covariates=way, names=("supplied",))
        found = compare_at_gap(histories, gaps, fit, first_way=supplied, covariates=way, way=0, months=12.0)
        assert three(found.whole_difference)[0] > 0
        low, _, high = three(found.difference)
        assert (low < 0 < high) == (direct == 0)
        through = found.through_gap.value
        assert through is not None
        assert (through > 0.75) == (direct == 0)


def test_same_gap_is_refused_where_gaps_do_not_overlap() -> None:
    histories, gaps, _ = GapFleet().draw(np.random.default_rng(10))
    supplied = gaps.mean_um > np.median(gaps.mean_um)
    way = supplied.astype(float)[:, None]
    fit = fit_loosening(histories, gaps, covariates=way)
    found = compare_at_gap(histories, gaps, fit, first_way=supplied, covariates=way, way=0, months=12.0)
    assert found.difference.status == "none"
    assert found.difference.code == LooseningRemark.WAYS_APART


def test_where_every_hub_failed_no_share_of_nothing_runs_through_the_gap() -> None:
    histories, gaps, supplied = GapFleet(fittings=80).draw(np.random.default_rng(12))
    n = len(histories)
    all_failed = replace(
        histories,
        left=np.full(n, 1.0),
        right=np.full(n, 2.0),
        silent_from=np.full(n, np.nan),
        last_word=np.full(n, 2.0),
        failed=np.ones(n, dtype=bool),
        unasked=np.ones(n, dtype=bool),
        asked=np.zeros(n, dtype=bool),
    )
    way = supplied.astype(float)[:, None]
    fit = fit_loosening(all_failed, gaps, covariates=way)
    found = compare_at_gap(all_failed, gaps, fit, first_way=supplied, covariates=way, way=0, months=12.0)
    assert found.whole_difference.value == 0.0
    assert found.through_gap.status == "none"


def test_choice_on_unstored_knowledge_is_seen() -> None:
    rng = np.random.default_rng(11)
    truth = rng.uniform(0, 80, 200)
    in_hand, other = truth + 7 * rng.standard_normal(200), truth + 7 * rng.standard_normal(200)
    none = np.zeros((200, 0))
    honest = check_choice(10 * np.round(in_hand / 10), in_hand, other, none)
    assert honest.ignorable
    knew = check_choice(10 * np.round((in_hand + other) / 20), in_hand, other, none)
    assert knew.ignorable is False
    assert knew.undersize_per_um.value == pytest.approx(0.5, abs=0.1)
    assert check_choice(in_hand[:10], in_hand[:10], other[:10], none[:10]).ignorable is None


def test_groups_that_others_make_up_change_nothing_of_the_choice() -> None:
    rng = np.random.default_rng(8)
    n = 60
    groups = np.column_stack([rng.integers(0, 2, n), rng.integers(0, 2, n)]).astype(float)
    in_hand = rng.normal(40.0, 12.0, n)
    other = in_hand + rng.normal(0.0, 6.0, n)
    sent = in_hand + 8 * groups[:, 0] + 0.4 * (other - in_hand) + rng.normal(0.0, 5.0, n)
    # the same periods under another name, and all of them together
    repeated = np.column_stack([groups, groups[:, 0], groups.sum(axis=1), np.ones(n)])
    plain, again = check_choice(sent, in_hand, other, groups), check_choice(sent, in_hand, other, repeated)
    assert three(again.undersize_per_um) == pytest.approx(three(plain.undersize_per_um), rel=1e-9)
    assert again.p_value == pytest.approx(plain.p_value, rel=1e-6)
    # an other inspection that says what the groups say tells nothing
    told = check_choice(sent, in_hand, in_hand + groups[:, 0], groups)
    assert told.p_value is None


def test_the_shafts_named_are_those_without_which_the_slope_changes_most() -> None:
    histories, gaps, _ = GapFleet(fittings=120).draw(np.random.default_rng(7))
    wide = gaps.value_um.copy()
    # one hub that never failed, its gap mistyped: the likeliest to pull
    watched = int(np.flatnonzero(~histories.failed & (histories.last_word > 20))[0])
    wide[watched] = 75.0
    gaps = replace(gaps, value_um=wide)
    fit = fit_loosening(histories, gaps)
    found = find_influence(fit)
    # independent: every shaft left out in turn and all fitted anew, about the same centre
    without = np.empty(120)
    for shaft in range(120):
        rest = histories.shaft != shaft
        left = fit_loosening(take_histories(histories, rest), gaps.take(rest), term=fit.term)
        without[shaft] = left.slope
    order = np.argsort(-np.abs(without - fit.slope))
    assert set(found.shaft[:2]) == set(order[:2])
    assert found.slope_without == pytest.approx(without[found.shaft], abs=0.02)
    assert fit.data.shaft[np.argmax(found.spoiled)] == histories.shaft[watched]


def test_doubt_of_the_choice_widens_all_intervals_alike() -> None:
    histories, gaps, fit = big()
    other = replace(gaps, value_um=gaps.value_um * 1.1)
    without = fit_loosening(histories, other, term=fit.term, start=fit.parameters)
    wider = with_choice_doubt(fit, without, worth=0.5, variance=0.04)
    moved = (fit.slope - without.slope) / 0.5
    assert wider.covariance[1, 1] == pytest.approx(fit.covariance[1, 1] + moved**2 * 0.04)
    assert wider.told_covariance == pytest.approx(fit.covariance)
    stretch = np.sqrt(wider.covariance[1, 1] / fit.covariance[1, 1])
    assert stretch > 1
    for estimate in (slope_estimate, slope_by_shafts):
        (low, value, high), (low_wider, value_wider, high_wider) = three(estimate(fit)), three(estimate(wider))
        assert value_wider == value
        if estimate is slope_estimate:
            assert (high_wider - value) / (high - value) == pytest.approx(stretch)
        assert low_wider < low < high < high_wider
    assert wider.choice is not None
    assert wider.choice.slope_without == without.slope


def test_the_ratio_between_gaps_is_that_of_drawn_laws() -> None:
    _, _, fit = big()
    ratio = ratio_between_gaps(fit, 10.0, 30.0, months=12.0)
    near, far = fit.risks(np.array([10.0, 30.0]), 12.0)[0]
    assert ratio.value == pytest.approx(far / near)
    drawn = np.random.default_rng(2).multivariate_normal(fit.parameters, fit.covariance, 4000)
    told = [replace(fit, parameters=one).log_hazards(np.array([10.0, 30.0]), 12.0)[0] for one in drawn]
    risk = -np.expm1(-np.exp(np.array(told)))
    low, high = np.quantile(risk[:, 1] / risk[:, 0], [0.025, 0.975])
    assert (ratio.low, ratio.high) == pytest.approx((low, high), rel=0.02)


def test_the_law_over_the_gap_is_the_mean_risk_of_those_on_record_and_its_slopes_are_differences() -> None:
    histories, gaps, supplied = GapFleet(fittings=900, supplied_log_hazard=0.8).draw(np.random.default_rng(13))
    # ways of unlike size, so that it tells which of them counts how often
    rare = supplied & (np.arange(900) % 3 == 0)
    fit = fit_loosening(histories, gaps, covariates=rare.astype(float)[:, None], names=("rare",))
    gap_um = np.array([0.0, 15.0, 40.0])
    found, slopes = fit.log_hazards(gap_um, 18.0)

    def by_hand(parameters: np.ndarray) -> np.ndarray:
        level, slope, effect, log_shape, _ = parameters
        line = level + slope * (gap_um[:, None] - fit.centre_um) / 10 + effect * fit.data.covariates[:, 0]
        risk = 1 - np.exp(-np.exp(line + np.exp(log_shape) * np.log(18 / 12)))
        return np.asarray(np.log(-np.log1p(-risk.mean(axis=1))))

    assert found == pytest.approx(by_hand(fit.parameters))
    moves = 1e-5 * np.eye(5)
    differences = [(by_hand(fit.parameters + move) - by_hand(fit.parameters - move)) / 2e-5 for move in moves]
    assert slopes == pytest.approx(np.stack(differences, axis=1), abs=1e-6)
    risk, low, high = fit.risks(gap_um, 18.0)
    sd = np.sqrt(np.diag(slopes @ fit.covariance @ slopes.T))
    for end, side in ((low, -1), (risk, 0), (high, 1)):
        assert np.log(-np.log1p(-end)) == pytest.approx(found + side * 1.959964 * sd)
