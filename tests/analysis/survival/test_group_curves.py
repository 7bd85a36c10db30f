"""Groups of curves: which estimator is used, what few fittings allow to say, and causes beside each other."""

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from statsmodels.duration.survfunc import survdiff

from tests.analysis.support.history_frames import fitting, histories
from tests.analysis.support.silent_fleet import SilentFleet
from wearstats.analysis.rates.two_by_two import clopper_pearson, upper_bound
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates
from wearstats.analysis.survival.comparison.group_test import GroupTest, judge_groups
from wearstats.analysis.survival.competing_causes import CAUSES, end_histories
from wearstats.analysis.survival.cumulative_incidence import fit_incidence
from wearstats.analysis.survival.group_curves import GroupCurve, GroupCurveFitter, choose_estimator
from wearstats.analysis.survival.group_risks import fit_groups
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.report.remarks.say import say

MONTHS = np.arange(0.0, 37.0, 0.5)
TICKS = np.array([0.0, 12.0, 24.0])
# everybody reports a failure at once, and nobody has been silent since
WATCHED = SilentFleet(fittings=160, silent_share=0.0, asked_every=2.5, reported=1.0, removed_a_month=0.02)


def _watched(seed: int = 1) -> pd.DataFrame:
    frame = WATCHED.draw(np.random.default_rng(seed))
    last = frame["last_tight_months"].where(frame["silent_since_months"].notna())
    return frame.assign(silent_until_months=last, cause=None)


def _fitter(frame: pd.DataFrame, horizon: float = 12.0) -> GroupCurveFitter:
    return GroupCurveFitter(frame, months=MONTHS, horizon_months=horizon, rng=np.random.default_rng(2))


def _judge(frame: pd.DataFrame, by: str) -> GroupTest:
    return judge_groups(frame, frame[by], reported=_fitter(frame).silence.chance, rng=np.random.default_rng(4))


def _fit(fitter: GroupCurveFitter, chosen: "pd.Series[bool] | NDArray[np.bool_]") -> GroupCurve:
    return fitter.fit("group", np.asarray(chosen, dtype=bool), ticks=TICKS)


def test_times_near_exact_and_no_silence_call_for_kaplan_meier() -> None:
    frame = _watched()
    fitter = _fitter(frame)
    assert fitter.estimator == "kaplan-meier"
    assert fitter.why.code == SurvivalRemark.NEAR_EXACT
    supplied = frame["method_sent"].eq("as-supplied")
    group = _fit(fitter, supplied)
    part = frame[supplied]
    middle = ((frame["failed_after_months"] + frame["first_bad_months"]) / 2).where(
        frame["outcome"].eq("failed"), frame["observed_months"]
    )
    plain = fit_kaplan_meier(middle[supplied], part["outcome"].eq("failed"), cluster=part["shaft"])
    assert group.risk.value == pytest.approx(1 - plain.at(12.0).item())
    at = np.searchsorted(plain.months, 12.0, side="right") - 1
    assert (group.risk.low, group.risk.high) == pytest.approx((1 - plain.high[at], 1 - plain.low[at]))
    assert group.curve["months"].iloc[-1] == group.followed_to
    test = _judge(frame, "method_sent")
    # the log-rank test of exact times as another program has it
    whole = survdiff(middle, frame["outcome"].eq("failed").astype(int), frame["method_sent"])[1]
    assert test.interval_log_rank_p == pytest.approx(float(whole), abs=0.05)


def test_wide_intervals_or_silence_call_for_turnbull() -> None:
    frame = SilentFleet(fittings=300).draw(np.random.default_rng(3))
    estimator, why = choose_estimator(SilentHistories.from_frame(frame))
    assert estimator == "turnbull"
    assert why.code == SurvivalRemark.WIDE_AND_SILENT
    silent = _watched().assign(silent_until_months=lambda f: f["silent_since_months"] + 20)
    assert choose_estimator(SilentHistories.from_frame(silent))[0] == "turnbull"


def test_the_curve_of_a_group_is_that_of_its_risk() -> None:
    frame = SilentFleet(fittings=300).draw(np.random.default_rng(3))
    told = SilentHistories.from_frame(frame)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, rng=np.random.default_rng(2))
    every = np.ones(len(frame), dtype=bool)
    risk = fit_groups(told, {"group": every}, silence, replicates, months=MONTHS)["group"]
    group = _fit(_fitter(frame), every)
    assert group.risk == risk.risk(12.0)
    pd.testing.assert_frame_equal(group.curve, risk.curve_frame().drop(columns="group"))
    assert group.at_risk["at_risk"].tolist()[0] == 300
    assert group.lost["flanks"] == group.failures == risk.failures


def test_causes_beside_each_other_are_aalen_johansen_where_times_are_exact() -> None:
    frame = _watched()
    group = _fit(_fitter(frame), frame["shaft"].notna())
    stop = np.where(frame["outcome"].eq("failed"), frame["observed_months"], frame["observed_months"])
    cause = np.select([frame["outcome"].eq(name) for name in CAUSES.values()], [1, 2, 3], default=0)
    expected = fit_incidence(stop, cause)
    lost = group.incidence.set_index("cause")["share"].groupby("cause").last()
    assert lost["flanks"] == pytest.approx(expected[1].share[-1])
    assert lost["removed"] == pytest.approx(expected[3].share[-1])
    assert "other causes" not in lost


def test_silent_causes_come_back() -> None:
    fleet = SilentFleet(fittings=4000, removed_a_month=0.02, risk_supplied=0.15, risk_hand=0.15)
    frame = fleet.draw(np.random.default_rng(8))
    group = _fit(_fitter(frame), frame["shaft"].notna())
    at = group.incidence[group.incidence["months"].eq(12.0)].set_index("cause").astype(float)
    # incidence of both by month 12, with hazards -log(0.85) 1.4 t^0.4 / 12^1.4 and 0.02, by the trapezoidal rule
    t = np.linspace(0, 12, 20001)
    cumulative = -np.log(0.85) * (t / 12) ** 1.4
    still = np.exp(-cumulative - 0.02 * t)
    flanks, removed = float(np.trapezoid(still, cumulative)), float(np.trapezoid(still * 0.02, t))
    for cause, truth in {"flanks": flanks, "removed": removed}.items():
        assert at["share"][cause] == pytest.approx(truth, abs=0.025)
        assert at["low"][cause] < truth < at["high"][cause]
    # beside the other cause it takes fewer than it would alone
    assert at["share"]["flanks"] < (group.risk.value or 0)


@pytest.mark.parametrize("watched", [True, False])
def test_a_group_without_failures_has_an_upper_bound(watched: bool) -> None:
    frame = _watched() if watched else SilentFleet(fittings=300).draw(np.random.default_rng(3))
    chosen = frame["outcome"].ne("failed") & (np.arange(len(frame)) % 2 == 0)
    group = _fit(_fitter(frame), chosen)
    through = int((frame.loc[chosen, "observed_months"] >= 12).sum())
    assert (group.risk.status, group.risk.value) == ("bounded", 0.0)
    assert group.risk.high == pytest.approx(upper_bound(0, through).high)
    assert group.said == remark(
        SurvivalRemark.SAID_NONE_FAILED, fittings=chosen.sum(), months=12.0, high=group.risk.high
    )
    assert (group.curve["still_tight"] == 1).all()
    assert group.curve["low"].iloc[0] == 1.0 > group.curve["low"].iloc[-1]


def test_few_fittings_have_an_interval_and_no_curve() -> None:
    frame = _watched()
    chosen = np.zeros(len(frame), dtype=bool)
    failed = np.flatnonzero(frame["outcome"].eq("failed") & (frame["observed_months"] < 12))[:1]
    tight = np.flatnonzero(frame["outcome"].eq("running") & (frame["observed_months"] > 13))[:2]
    chosen[[*failed, *tight]] = True
    group = _fit(_fitter(frame), chosen)
    exact = clopper_pearson(1, 3)
    assert (group.risk.value, group.risk.low, group.risk.high) == (exact.value, exact.low, exact.high)
    assert group.risk.status == "bounded"
    assert say(group.said) == "3 fittings, 1 worked loose; the chance by month 12 may be anything from 1 to 91 %"
    assert group.curve.empty
    assert group.incidence.empty
    none_known = np.zeros(len(frame), dtype=bool)
    none_known[np.flatnonzero(frame["outcome"].eq("running") & (frame["observed_months"] < 3))[:1]] = True
    assert _fit(_fitter(frame, horizon=36.0), none_known).risk.value is None


def test_beyond_what_was_followed_there_is_no_risk() -> None:
    frame = _watched()
    group = _fit(_fitter(frame, horizon=36.0), frame["observed_months"] < 30)
    assert (group.risk.status, group.risk.value) == ("beyond-data", None)


def test_one_group_or_no_failure_cannot_be_compared() -> None:
    frame = _watched()
    one = _judge(frame, "pattern")
    assert one.interval_log_rank_p is None
    assert one.why == remark(SurvivalRemark.ONE_GROUP)
    tight = frame[frame["outcome"].ne("failed")].reset_index(drop=True)
    none = _judge(tight, "method_sent")
    assert "0 failures" in say(none.why)


def test_ends_reported_and_found_are_dated() -> None:
    found = histories(
        [fitting("F1"), fitting("F2"), fitting("F3"), fitting("F4")],
        [
            ("F1", "2024-07-01", "loose", "unasked", "nut-slack"),
            ("F2", "2024-03-01", "tight", "asked"),
            ("F2", "2024-07-01", "loose", "asked", "nut-slack"),
            ("F3", "2024-07-01", "loose", "unasked", "flanks"),
            ("F4", "2024-07-01", "removed", "unasked"),
        ],
    )
    ends = end_histories(found.ran, ["other-cause"])
    march, july = 60 / 30.4375, 182 / 30.4375  # days from 2024-01-01, a leap year
    assert ends.failed.tolist() == [True, True, False, False]
    assert ends.left[:2].tolist() == pytest.approx([july, march])
    assert ends.right[:2].tolist() == pytest.approx([july, july])
    assert (ends.unasked.tolist()[:2], ends.asked.tolist()[:2]) == ([True, False], [False, True])
    # the failure leaves sight in the middle of its interval, the hub taken off on the day it was told of
    assert ends.left[2:].tolist() == pytest.approx([july - 0.5, july])
    assert np.isinf(ends.right[2:]).all()


def test_shafts_seen_twice_do_not_narrow_the_band() -> None:
    frame = _watched()
    twice = pd.concat([frame, frame], ignore_index=True)
    one, two = (_fit(_fitter(f), f["shaft"].notna()) for f in (frame, twice))
    assert (two.risk.value, two.risk.low, two.risk.high) == pytest.approx(
        (one.risk.value, one.risk.low, one.risk.high), abs=1e-9
    )
    assert two.shafts == one.shafts
