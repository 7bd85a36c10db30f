"""Kaplan-Meier and log-rank against the leukaemia data, and against other programs on random data."""

import numpy as np
import pytest
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from tests.analysis.reference_frames import reference_frame
from wearstats.analysis.curves import fit_kaplan_meier, log_rank, numbers_at_risk
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
    assert fit_kaplan_meier(TREATED["weeks"], TREATED["relapsed"]).median() == 23
    assert fit_kaplan_meier(CONTROL["weeks"], CONTROL["relapsed"]).median() == 8


def test_log_rank_of_the_remissions() -> None:
    # Klein, Moeschberger (2003): chi-squared 16.793, p 4.17e-5
    result = log_rank(LEUKAEMIA["weeks"], LEUKAEMIA["relapsed"], LEUKAEMIA["group"])
    assert result.groups == ("6-MP", "control")
    assert result.observed.tolist() == [9, 21]
    assert result.statistic == pytest.approx(16.793, abs=5e-4)
    assert result.p_value == pytest.approx(4.17e-5, abs=5e-8)


def test_curve_that_ends_at_nothing_keeps_its_upper_limit() -> None:
    curve = fit_kaplan_meier(CONTROL["weeks"], CONTROL["relapsed"])
    assert curve.still_tight[-1] == 0
    assert curve.low[-1] == 0
    assert curve.high[-1] == curve.high[-2] > 0


@pytest.mark.parametrize("seed", range(3))
def test_three_groups_agree_with_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stop = np.round(rng.weibull(1.3, 90) * 20 + 1)
    failed = rng.random(90) < 0.6
    group = rng.integers(3, size=90)
    statistic, p_value = survdiff(stop, failed.astype(int), group)
    result = log_rank(stop, failed, group)
    assert result.statistic == pytest.approx(float(statistic), rel=1e-9)
    assert result.p_value == pytest.approx(float(p_value), rel=1e-9)
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
    with pytest.raises(AnalysisError, match="cannot be compared"):
        log_rank([1, 2], [False, False], ["a", "b"])
