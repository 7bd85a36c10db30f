"""Kaplan-Meier against the leukaemia data, and against other programs on random data."""

import numpy as np
import pytest
from statsmodels.duration.survfunc import SurvfuncRight

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier, numbers_at_risk
from wearstats.errors import AnalysisError

LEUKAEMIA = reference_frame("leukaemia_remission.csv")
TREATED = LEUKAEMIA[LEUKAEMIA["group"] == "6-MP"]
CONTROL = LEUKAEMIA[LEUKAEMIA["group"] == "control"]


def test_remission_curve_as_printed() -> None:
    # Klein, Moeschberger, Survival Analysis (2nd ed. 2003), Table 4.1A; the limits as statistics packages print them
    curve = fit_kaplan_meier(TREATED["weeks"], TREATED["relapsed"])
    assert curve.months.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert curve.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    np.testing.assert_allclose(curve.still_tight, [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], atol=5e-4)
    np.testing.assert_allclose(curve.std_error, [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346], atol=5e-5)
    np.testing.assert_allclose(curve.low, [0.6197, 0.5631, 0.5032, 0.4316, 0.3675, 0.2678, 0.1881], atol=5e-5)
    np.testing.assert_allclose(curve.high, [0.9516, 0.9228, 0.8894, 0.8491, 0.8049, 0.7468, 0.6801], atol=5e-5)


def test_median_remissions() -> None:
    # Cox, Oakes, Analysis of Survival Data (1984): 23 and 8 weeks
    for group, median in ((TREATED, 23), (CONTROL, 8)):
        curve = fit_kaplan_meier(group["weeks"], group["relapsed"])
        assert curve.months[curve.still_tight <= 0.5 + 1e-12][0] == median


def test_curve_that_ends_at_nothing_keeps_its_upper_limit() -> None:
    curve = fit_kaplan_meier(CONTROL["weeks"], CONTROL["relapsed"])
    assert curve.still_tight[-1] == 0
    assert curve.low[-1] == 0
    assert curve.high[-1] == curve.high[-2] > 0


@pytest.mark.parametrize("seed", range(3))
def test_curves_agree_with_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stop = np.round(rng.weibull(1.3, 90) * 20 + 1)
    failed = rng.random(90) < 0.6
    theirs = SurvfuncRight(stop, failed.astype(int))
    ours = fit_kaplan_meier(stop, failed)
    np.testing.assert_allclose(ours.still_tight, np.asarray(theirs.surv_prob), rtol=1e-12)
    inner = ours.still_tight > 0
    np.testing.assert_allclose(ours.std_error[inner], np.asarray(theirs.surv_prob_se)[inner], rtol=1e-9)


def test_late_entry_counts_after_its_month() -> None:
    # at 5 only the second is at risk: the first is known from just after 5, the third from 6
    curve = fit_kaplan_meier([9, 5, 9], [True, True, False], start=[5, 0, 6])
    assert curve.at_risk.tolist() == [1, 2]
    np.testing.assert_allclose(curve.still_tight, [0.0, 0.0])


def test_numbers_at_risk() -> None:
    assert numbers_at_risk([1, 2, 3], [0, 1, 1.5, 3, 4]).tolist() == [3, 3, 2, 1, 0]
    assert numbers_at_risk([3, 3], [0, 1, 2, 3], start=[0, 1]).tolist() == [1, 1, 2, 2]


def test_data_that_cannot_answer() -> None:
    with pytest.raises(AnalysisError, match="no fittings"):
        fit_kaplan_meier([], [])
    with pytest.raises(AnalysisError, match="stop no later"):
        fit_kaplan_meier([3.0], [True], start=[3.0])


def test_risk_sets_with_delayed_entry_worked_by_hand() -> None:
    # Therneau, Grambsch (2000), appendix E: log likelihood at no effect -(ln 2 + ln 3 + 3 ln 5 + 2 ln 4), a logarithm
    # of the number at risk for each event
    data = reference_frame("delayed_entry_by_hand.csv")
    curve = fit_kaplan_meier(data["stop"], data["event"], start=data["start"])
    likelihood = -float(curve.failures @ np.log(curve.at_risk))
    assert likelihood == pytest.approx(-9.3926619, abs=5e-8)


def test_shafts_of_one_fitting_give_greenwoods_error() -> None:
    plain = fit_kaplan_meier(TREATED["weeks"], TREATED["relapsed"])
    alone = fit_kaplan_meier(TREATED["weeks"], TREATED["relapsed"], cluster=TREATED["pair"])
    np.testing.assert_allclose(alone.std_error, plain.std_error, rtol=1e-12)


def test_copied_fittings_of_a_shaft_tell_nothing_new() -> None:
    weeks, relapsed, pair = (np.tile(LEUKAEMIA[name], 2) for name in ("weeks", "relapsed", "pair"))
    once = fit_kaplan_meier(LEUKAEMIA["weeks"], LEUKAEMIA["relapsed"], cluster=LEUKAEMIA["pair"])
    twice = fit_kaplan_meier(weeks, relapsed, cluster=pair)
    np.testing.assert_allclose(twice.std_error, once.std_error, rtol=1e-12)
    weighted = fit_kaplan_meier(LEUKAEMIA["weeks"], LEUKAEMIA["relapsed"], weight=np.full(42, 2.0))
    np.testing.assert_allclose(weighted.std_error, fit_kaplan_meier(weeks, relapsed).std_error, rtol=1e-12)


def test_variance_by_shafts_is_the_spread_of_fleets_drawn_anew() -> None:
    rng = np.random.default_rng(4)
    shafts = np.repeat(np.arange(200), 3)
    rate = np.exp(rng.standard_normal(200))[shafts] / 20
    fails, leaves = rng.standard_exponential(600) / rate, rng.uniform(5, 30, 600)
    stop, failed = np.minimum(fails, leaves), fails < leaves
    curve = fit_kaplan_meier(stop, failed, cluster=shafts)
    plain = fit_kaplan_meier(stop, failed)
    drawn = rng.integers(200, size=(400, 200))
    weights = np.stack([np.bincount(one, minlength=200) for one in drawn])[:, shafts].astype(float)
    spread = np.std([fit_kaplan_meier(stop, failed, weight=w).at(10.0).item() for w in weights])
    at = np.searchsorted(curve.months, 10.0, side="right") - 1
    assert curve.std_error[at] == pytest.approx(spread, rel=0.12)
    assert curve.std_error[at] > 1.05 * plain.std_error[at]
