"""What is predicted of hubs in use: quarter, year and money; by one rate, from a sample, or not at all."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.analysis.monitoring.observed_expected import ratio_sequence
from wearstats.analysis.remark import remark
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.forecast import study as forecast
from wearstats.studies.forecast.answers import answer_records
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.forecast.study import ForecastStudy, study_forecast
from wearstats.studies.inputs import sampling
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.inputs.prices import Prices, prices_of
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> ForecastStudy:
    return study_forecast(demo)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Give a shop of forty fittings without readings or prices."""
    path = make_store(tmp_path_factory.mktemp("forecast") / "small.duckdb", plain_frames())
    with open_store(path) as store:
        yield store


def test_quarter_and_year_are_the_sums_of_what_each_hub_may_do(study: ForecastStudy) -> None:
    assert study.chances is not None
    for estimate, time in ((study.next_quarter, 0), (study.next_year, 1)):
        chance = study.chances.known(time)
        assert chance.shape[1] == len(study.running) == study.hubs
        assert estimate.value == pytest.approx(chance.mean(axis=0).sum())
        assert estimate.level == 0.90
        # drawn hub by hub, apart from the exact law
        drawn = (np.random.default_rng(2).random((20, *chance.shape)) < chance).sum(axis=2)
        low, high = np.quantile(drawn, [0.05, 0.95])
        assert estimate.low == pytest.approx(low, abs=1.0)
        assert estimate.high == pytest.approx(high, abs=1.0)


def test_what_comes_to_be_known_in_a_year_is_less_than_what_happens(study: ForecastStudy) -> None:
    assert study.next_quarter.value is not None
    assert study.next_year.value is not None
    assert study.happen_year is not None
    assert 2.5 * study.next_quarter.value < study.next_year.value < study.happen_year
    assert study.happen_year == pytest.approx(study.running["risk_year"].sum())


def test_money_is_the_price_of_each_pattern_for_its_failures(study: ForecastStudy, demo: Snapshot) -> None:
    assert study.chances is not None
    chance, pattern = study.chances.known(1), study.chances.hubs["pattern"].to_numpy(dtype=str)
    prices = {name: prices_of(demo, name) for name in np.unique(pattern)}
    each = {name: found.need("failure")[0] for name, found in prices.items()}
    told = sum(price * chance[:, pattern == name].sum(axis=1).mean() for name, price in each.items())
    assert study.money.value == pytest.approx(told)
    assert {study.currency} == {found.currency for found in prices.values()}
    assert study.money.value is not None
    assert study.next_year.low is not None
    assert study.next_year.high is not None
    assert study.money.low is not None
    assert study.money.high is not None
    assert study.next_year.low * min(each.values()) - max(each.values()) <= study.money.low < study.money.value
    assert study.money.value < study.money.high <= (study.next_year.high + 1) * max(each.values())


def test_without_a_price_or_in_two_currencies_there_is_no_sum(demo: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    def lacking(snapshot: Snapshot, pattern: str) -> Prices:
        found = prices_of(snapshot, pattern)
        return replace(found, failure=None) if pattern == "D8" else found

    def mixed(snapshot: Snapshot, pattern: str) -> Prices:
        return replace(prices_of(snapshot, pattern), currency=pattern)

    for prices, why in ((lacking, "no price of 'failure'"), (mixed, "several currencies")):
        monkeypatch.setattr(forecast, "prices_of", prices)
        found = study_forecast(demo, past=False)
        assert found.money.value is None
        assert why in say(found.money.method)
        assert found.currency is None
        assert found.next_year.value is not None


def test_the_record_is_left_out_where_it_is_not_wanted(study: ForecastStudy, demo: Snapshot) -> None:
    alone = study_forecast(demo, past=False)
    assert alone.earlier.empty
    assert alone.watch is None
    assert alone.signals() == []
    assert alone.not_predicted == {}
    document = plain(alone)
    json.dumps(document, allow_nan=False)
    assert document["seen_over_predicted"] is None
    assert alone.next_quarter.value == study.next_quarter.value


def test_every_past_quarter_is_predicted_or_says_why_not(study: ForecastStudy, demo_store: Store) -> None:
    quarters = [*study.not_predicted, *study.earlier["quarter"]]
    assert quarters == sorted(quarters)
    assert quarters[-1] == "2026Q3"
    assert all(why.code == ForecastRemark.FEW_FAILURES for why in study.not_predicted.values())
    inside = (study.earlier["low"] <= study.earlier["happened"]) & (study.earlier["happened"] <= study.earlier["high"])
    assert study.inside == inside.sum()
    known = demo_store.table(
        "select count(distinct fitting) as n from follow_ups where state in ('loose', 'broken') and cause = 'flanks' "
        "and seen_on between date '2026-07-01' and date '2026-09-30'"
    )
    # the others were fitted in the quarter, came back, or contradict themselves
    assert 0 < study.earlier["happened"].iloc[-1] <= int(known["n"].iloc[0]) + 5


def test_seen_over_predicted_is_wider_than_were_the_law_exact(study: ForecastStudy) -> None:
    assert study.watch is not None
    ratio = study.watch.ratio
    seen, expected = (study.earlier[name].to_numpy(dtype=float) for name in ("happened", "expected"))
    exact = ratio_sequence(seen, expected, np.zeros(seen.size))
    assert ratio.value == pytest.approx(seen.sum() / expected.sum())
    assert (ratio.low or 0.0) < (exact.low or 0.0)
    assert (ratio.high or 0.0) > (exact.high or 0.0)


def test_without_gaps_one_rate_is_taken_for_all(small: Store) -> None:
    study = study_forecast(Snapshot(store=small, known_on=AS_OF))
    # by hand: forty hubs of 1 January 2024, eight of which were known to be loose on 1 June, and 32 run on;
    # records reach 106 days past their last word of 1 March 2025 (after pauses of 31, 121 and 273 days)
    failures, running, time = 8, 32, (32 * 532 + 8 * 152) / MEAN_MONTH_DAYS
    assert len(study.running) == study.hubs == running
    assert study.why_no_law == remark(ForecastRemark.NO_GAPS)
    for estimate, months in ((study.next_quarter, 3.0), (study.next_year, 12.0)):
        assert estimate.status == "assumed"
        # the chance to hold, over a gamma distribution of the rate: its Laplace transform
        holds = (1 + months / time) ** -(failures + 0.5)
        assert estimate.value == pytest.approx(running * (1 - holds))
        assert estimate.value is not None
        assert 0 <= (estimate.low or 0.0) < estimate.value < (estimate.high or 0.0) <= running
    assert study.money.value is None
    assert study.happen_year is None
    assert study.chances is None
    assert study.watch is None
    assert study.running["risk_quarter"].isna().all()
    assert set(study.not_predicted.values()) == {study.why_no_law, remark(ForecastRemark.FEW_FAILURES, failures=0)}
    json.dumps(plain(study), allow_nan=False)


def test_no_fitting_is_refused(tmp_path: Path) -> None:
    frames = {name: frame for name, frame in plain_frames().items() if name in {"shafts", "hubs"}}
    with (
        open_store(make_store(tmp_path / "none.duckdb", frames)) as store,
        pytest.raises(AnalysisError, match="no fitting is on record"),
    ):
        study_forecast(Snapshot(store=store, known_on=AS_OF))


def test_before_the_first_fitting_there_is_nothing(small: Store) -> None:
    with pytest.raises(AnalysisError, match="no fitting is on record"):
        study_forecast(Snapshot(store=small, known_on=datetime.date(2023, 6, 1)))


def test_hubs_of_a_sample_of_shafts_stand_for_all(
    study: ForecastStudy, demo_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sampling, "SAMPLE_SHAFTS", 150)
    some = study_forecast(Snapshot(store=demo_store, known_on=demo_as_of()), past=False)
    assert some.sampled_shafts == 150
    assert some.running["shaft"].nunique() <= 150
    assert set(some.running["fitting"]) < set(study.running["fitting"])
    assert some.hubs == pytest.approx(study.hubs, rel=0.15)
    assert some.hubs > 1.3 * len(some.running)
    for part, whole in ((some.next_year, study.next_year), (some.money, study.money)):
        assert part.low is not None
        assert part.high is not None
        assert whole.value is not None
        assert whole.low is not None
        assert whole.high is not None
        assert part.low < whole.value < part.high
        # that the others were not looked at is part of the doubt
        assert part.high - part.low > whole.high - whole.low
    assert some.to_dict()["sampled_shafts"] == 150


def test_hubs_are_listed_by_their_chance(study: ForecastStudy) -> None:
    frame = study.running
    assert isinstance(frame, pd.DataFrame)
    assert frame["risk_quarter"].is_monotonic_decreasing
    for name in ("loose_now", "risk_quarter", "risk_year"):
        assert (frame[f"{name}_low"] <= frame[f"{name}_high"]).all()
        assert frame[name].between(0.0, 1.0).all()


def test_asking_all_makes_more_known_never_more_than_is_loose(study: ForecastStudy, demo: Snapshot) -> None:
    asked = study_forecast(demo, past=False, ask_all=True)
    assert (asked.next_quarter.status, study.next_quarter.status) == ("assumed", "ok")
    assert plain(asked)["asking"] == "all"
    assert asked.chances is not None
    for time in (0, 1):
        more, before = asked.chances.known(time, ask_all=True), asked.chances.known(time)
        assert (more >= before - 1e-12).all()
        assert (more <= asked.chances.predicted.loose_by(time) + 1e-12).all()
    assert asked.next_quarter.value is not None
    assert asked.next_quarter.value >= asked.chances.predicted.loose_now.sum(axis=1).mean() - 1e-9


def test_answers_are_counted_by_hub_and_owner(demo: Snapshot) -> None:
    histories = histories_of(demo)
    hubs = read_hubs_in_use(demo, histories)
    records = answer_records(demo, hubs, histories.ran.reset_index(drop=True)["entry_months"])
    told = demo.query("fittings/follow_ups", shafts=None)
    told = told[told["prompted"].eq("asked") & told["state"].ne("no-answer")]
    told = told[told["fitting"].isin(hubs.frame["fitting"])]
    # all but the first word of a hub learnt of later, and of a few whose day of fitting is not known
    assert 0.9 * len(told) < records.month.size <= len(told)
    assert 0 < records.owners < hubs.frame["shaft"].nunique()
    hub, length, answered = records.waits()
    assert answered.sum() == records.month.size
    assert length.sum() == pytest.approx((records.stop - records.start).sum())
    assert np.bincount(hub[answered], minlength=len(hubs.frame)).tolist() == (
        np.bincount(records.hub, minlength=len(hubs.frame)).tolist()
    )
    assert records.rounds() is None
