"""Risks of groups: their statuses, their curves, and intervals from shafts drawn anew."""

import dataclasses
from collections.abc import Mapping

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from tests.analysis.support.silent_fleet import SilentFleet
from wearstats.analysis.rates.two_by_two import upper_bound
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates, resample_curve
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups, risk_difference
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.analysis.survival.turnbull import fit_cells

MONTHS = np.arange(0.0, 37.0)
FLEET = SilentFleet(fittings=300)


def _groups(frame: pd.DataFrame, seed: int = 1) -> Mapping[str, GroupRisk]:
    told = SilentHistories.from_frame(frame)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, replicates=60, rng=np.random.default_rng(seed))
    supplied: NDArray[np.bool_] = frame["method_sent"].eq("as-supplied").to_numpy(dtype=bool)
    groups = {"supplied": supplied, "hand": ~supplied, "all": supplied | True, "none": supplied & False}
    return fit_groups(told, groups, silence, replicates, months=MONTHS)


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    return FLEET.draw(np.random.default_rng(3))


@pytest.fixture(scope="module")
def groups(frame: pd.DataFrame) -> Mapping[str, GroupRisk]:
    return _groups(frame)


def test_counts(frame: pd.DataFrame, groups: Mapping[str, GroupRisk]) -> None:
    everything = groups["all"]
    assert everything.fittings == 300
    assert everything.failures == frame["outcome"].eq("failed").sum()
    assert everything.followed == frame["outcome"].ne("no-word").sum()
    assert everything.hub_months == pytest.approx(frame["observed_months"].sum())
    assert groups["supplied"].failures + groups["hand"].failures == everything.failures
    assert everything.at_risk[0] == 300


def test_risk_lies_in_its_interval_and_grows(groups: Mapping[str, GroupRisk]) -> None:
    risks = [groups["all"].risk(month) for month in (6.0, 12.0, 24.0)]
    values = [risk.value or 0.0 for risk in risks]
    assert values == sorted(values)
    for risk in risks:
        assert risk.status == "ok"
        assert risk.low is not None
        assert risk.high is not None
        assert 0 < risk.low < (risk.value or 0) < risk.high < 1


def test_curve_frame_falls_inside_its_band(groups: Mapping[str, GroupRisk]) -> None:
    curve = groups["all"].curve_frame()
    assert list(curve) == ["group", "months", "still_tight", "low", "high"]
    assert curve.iloc[0].tolist() == ["all", 0.0, 1.0, 1.0, 1.0]
    assert curve["months"].max() <= groups["all"].followed_to
    assert np.all(np.diff(curve["still_tight"]) <= 1e-12)
    assert (curve["low"] <= curve["still_tight"] + 1e-12).all()
    assert (curve["high"] >= curve["still_tight"] - 1e-12).all()
    assert groups["all"].at_risk_frame(np.array([0.0, 12.0]))["at_risk"].tolist()[0] == 300


def test_difference_of_the_groups(groups: Mapping[str, GroupRisk]) -> None:
    forth = risk_difference(groups["supplied"], groups["hand"], 12.0)
    back = risk_difference(groups["hand"], groups["supplied"], 12.0)
    assert forth.value == pytest.approx(
        (groups["supplied"].risk(12.0).value or 0) - (groups["hand"].risk(12.0).value or 0)
    )
    assert (back.value, back.low, back.high) == pytest.approx(
        (-(forth.value or 0), -(forth.high or 0), -(forth.low or 0))
    )
    itself = risk_difference(groups["all"], groups["all"], 12.0)
    assert (itself.value, itself.low, itself.high) == pytest.approx((0, 0, 0), abs=0.06)


def test_group_without_fittings_and_months_beyond_the_data(groups: Mapping[str, GroupRisk]) -> None:
    assert groups["none"].risk(12.0).status == "none"
    assert risk_difference(groups["all"], groups["none"], 12.0).status == "none"
    assert groups["none"].curve_frame()["months"].tolist() == [0.0]
    beyond = groups["all"].risk(36.0)
    assert groups["all"].followed_to < 36
    assert (beyond.status, beyond.value) == ("beyond-data", None)
    with pytest.raises(KeyError):
        groups["all"].risk(12.3)


def test_no_failures_give_an_exact_bound() -> None:
    frame = dataclasses.replace(FLEET, risk_supplied=1e-12, risk_hand=1e-12).draw(np.random.default_rng(4))
    risk = _groups(frame)["all"].risk(12.0)
    through = int((frame["observed_months"] >= 12).sum())
    assert (risk.status, risk.value, risk.low) == ("bounded", 0.0, 0.0)
    assert risk.high == upper_bound(0, through).high


def test_where_silence_is_not_told_both_extremes_are_shown() -> None:
    fleet = dataclasses.replace(FLEET, silent_share=1.0, removed_a_month=1e-9)
    group = _groups(fleet.draw(np.random.default_rng(5)))["all"]
    risk = group.risk(12.0)
    assert risk.status == "assumed"
    assert group.share_if_silence_is_good is not None
    least, most = group.share_if_silence_is_good[12], risk.value or 0.0
    truth = (fleet.risk_supplied + fleet.risk_hand) / 2
    assert (risk.low or 0) < least < truth < most < (risk.high or 0)


def test_same_seed_same_answer(frame: pd.DataFrame, groups: Mapping[str, GroupRisk]) -> None:
    assert _groups(frame)["all"].risk(12.0) == groups["all"].risk(12.0)
    assert _groups(frame, seed=2)["all"].risk(12.0) != groups["all"].risk(12.0)


def test_copied_fittings_of_a_shaft_do_not_narrow_the_interval(frame: pd.DataFrame) -> None:
    once = _groups(frame)["all"]
    copied = _groups(pd.concat([frame, frame], ignore_index=True))["all"]
    assert copied.share == pytest.approx(once.share, abs=1e-5)
    assert copied.effective_number(12.0) == pytest.approx(once.effective_number(12.0), rel=0.02)


def test_replicates_climb_to_where_single_fits_end(frame: pd.DataFrame) -> None:
    told = SilentHistories.from_frame(frame)
    silence = fit_silence(told)
    replicates = draw_replicates(told, silence, replicates=8, rng=np.random.default_rng(6))
    every = np.ones(len(told), dtype=bool)
    cells = told.cells()
    mass = resample_curve(cells, silence.curve, replicates, every)
    np.testing.assert_allclose(mass.sum(axis=1), 1)
    for number in range(8):
        unreported = 1 - float(replicates.chance[number])
        ended = fit_cells(cells, replicates.weight[number], unreported=unreported, tolerance=1e-6)
        quick = dataclasses.replace(ended, mass=mass[number])
        np.testing.assert_allclose(quick.share_failed([6, 12, 18]), ended.share_failed([6, 12, 18]), atol=0.012)
