"""What is put into a silent fleet comes out: the risk, and the chance of an unasked report."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.silent_fleet import SilentFleet
from tests.analysis.support.turnbull import fit_turnbull
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence

FLEET = SilentFleet(fittings=4000, risk_supplied=0.1, risk_hand=0.1)


def test_risk_and_chance_come_back_where_plain_censoring_overstates() -> None:
    told = SilentHistories.from_frame(FLEET.draw(np.random.default_rng(7)))
    fit = fit_silence(told)
    assert fit.identified
    # four standard errors of about 0.006 and 0.025
    assert fit.curve.share_failed(12.0).item() == pytest.approx(0.10, abs=0.024)
    assert fit.chance == pytest.approx(0.6, abs=0.1)
    assert fit.reported_unasked.low is not None
    assert fit.reported_unasked.high is not None
    assert fit.reported_unasked.low < 0.6 < fit.reported_unasked.high
    plain = fit_turnbull(np.where(np.isnan(told.silent_from), told.left, told.silent_from), told.right)
    assert plain.share_failed(12.0).item() > 0.12


@pytest.mark.parametrize("reported", [0.0, 1.0])
def test_never_and_always_reported(reported: float) -> None:
    fleet = dataclasses.replace(FLEET, reported=reported, fittings=2000, silent_share=0.1)
    fit = fit_silence(SilentHistories.from_frame(fleet.draw(np.random.default_rng(8))))
    assert fit.chance == pytest.approx(reported, abs=0.03)
    assert fit.curve.share_failed(12.0).item() == pytest.approx(0.10, abs=0.03)


def test_without_answers_the_chance_is_not_told() -> None:
    fleet = dataclasses.replace(FLEET, silent_share=1.0, fittings=300, removed_a_month=1e-9)
    fit = fit_silence(SilentHistories.from_frame(fleet.draw(np.random.default_rng(9))))
    assert not fit.identified
    chance = fit.reported_unasked
    assert chance.status == "assumed"
    assert chance.high == 1.0
    # only this much is told: all that were reported had failed, so no smaller share of failures can be reported
    assert chance.value == chance.low
    assert 0 < fit.chance < 0.6


def test_without_failures_there_is_no_chance_and_no_risk() -> None:
    fleet = dataclasses.replace(FLEET, risk_supplied=1e-12, risk_hand=1e-12, fittings=50)
    fit = fit_silence(SilentHistories.from_frame(fleet.draw(np.random.default_rng(10))))
    assert fit.reported_unasked.status == "none"
    assert fit.chance == 0.0
    assert fit.curve.share_failed(12.0).item() == 0.0


def test_who_prompted_a_failure_may_be_unknown() -> None:
    frame = FLEET.draw(np.random.default_rng(11)).head(400).assign(prompted=pd.Series(dtype="str"))
    told = SilentHistories.from_frame(frame)
    assert told.failed.any()
    assert not told.asked.any()
    assert not told.unasked.any()
    assert fit_silence(told).reported_unasked.status == "none"
