"""Histories of an invented fleet: every failure that was heard of is found, and the risk comes back."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.histories.build import Histories, build_histories
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.simulate import DEMO, Fleet, simulate

FLEET = simulate(dataclasses.replace(DEMO, shafts=1500), rng=np.random.default_rng(12))


def _as_the_store_gives_them(fleet: Fleet) -> Histories:
    """Join and date the tables as the queries do; the tables hold days and months as typed."""
    frames = {name: frame.astype("str") for name, frame in fleet.frames.items()}
    shafts = frames["shafts"][["shaft", "pattern", "duty", "region"]]
    typed = frames["fittings"]["fitted_on"]
    first = pd.to_datetime(typed.where(typed.str.len().ne(7), typed + "-01"))
    last = first.where(typed.str.len().ne(7), first + pd.offsets.MonthEnd(0))
    fittings = frames["fittings"].assign(fitted_from=first, fitted_to=last)
    return build_histories(
        fittings=fittings.merge(shafts, on="shaft", how="left"),
        follow_ups=frames["follow_ups"],
        dispatches=frames["dispatches"].merge(shafts, on="shaft", how="left"),
        returns=frames["returns"],
        as_of=fleet.truth.scenario.end,
    )


@pytest.fixture(scope="module")
def found() -> Histories:
    return _as_the_store_gives_them(FLEET)


def test_every_failure_heard_of_is_a_failure_and_no_other(found: Histories) -> None:
    truth = FLEET.truth.fittings
    heard = truth[truth["ran"] & truth["failed"] & truth["known"]]
    failed = found.ran[found.ran["outcome"].eq("failed")]
    on_record = set(found.ran["fitting"])
    assert set(failed["fitting"]) <= set(truth.loc[truth["failed"], "fitting"])
    assert set(found.left_out["fitting"]).isdisjoint(failed["fitting"])
    assert len(failed) > 100
    silent = found.ran[found.ran["silent_since_months"].notna()]
    unheard = set(heard["fitting"]) & on_record - set(failed["fitting"])
    assert unheard <= set(silent["fitting"])


def test_failures_lie_in_their_intervals(found: Histories) -> None:
    failed = found.ran[found.ran["outcome"].eq("failed")]
    both = failed.merge(FLEET.truth.fittings[["fitting", "loose_months"]], on="fitting")
    # a day for rounding, and as much as the day of fitting is uncertain
    slack = 1.0 / 30.4375 + (both["origin_to"] - both["origin_from"]).dt.days / 30.4375
    after = both["loose_months"] > both["failed_after_months"] - slack
    by = both["loose_months"] <= both["first_bad_months"] + slack
    # of those who did not tell, the delay is known as it is on average
    guessed = both["prompted"].eq("unasked") & ~both["day_told"]
    assert (after & by)[~guessed].all()
    assert (after & by)[guessed].mean() > 0.8
    middle = (both["failed_after_months"] + both["first_bad_months"]) / 2
    assert (both["loose_months"] - middle)[guessed].mean() == pytest.approx(0.0, abs=0.05)
    assert slack.median() < 0.05


def test_risk_and_chance_of_a_report_come_back(found: Histories) -> None:
    truth = FLEET.truth.fittings
    ran = truth[truth["ran"] & truth["fitting"].isin(found.ran["fitting"])]
    fit = fit_silence(SilentHistories.from_frame(found.ran))
    for months in (6.0, 12.0, 24.0):
        share = (ran["loose_months"] <= months).mean()
        spread = np.sqrt(share * (1 - share) / (0.4 * len(ran)))
        assert fit.curve.share_failed(months).item() == pytest.approx(share, abs=4 * spread)
    assert fit.chance == pytest.approx(FLEET.truth.scenario.reported_unasked, abs=0.12)


def test_months_on_record_add_up(found: Histories) -> None:
    ran = found.ran
    assert len(found.frame.loc[found.frame["kind"].eq("fitting")]) + len(found.left_out) == len(
        FLEET.frames["fittings"]
    )
    assert (ran["observed_months"] <= ran["age_months"] + 1e-9).all()
    assert ran["method_sent"].notna().all()
