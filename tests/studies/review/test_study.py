"""The quarterly review: of the demo, and of small shops counted by hand."""

import datetime
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.fitting_store import make_store, plain_frames, shelf_counted
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.domain.quarters import Quarter, parse_quarter
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.errors import AnalysisError, UsageError
from wearstats.report.remarks.document import plain
from wearstats.report.review.sentences import STOP_FIRST, review_sentences
from wearstats.report.review.tables import at_risk_table, forecasts_table, groups_table, rates_table
from wearstats.simulate.demo_files import make_demo
from wearstats.store.advice import GivenAdvice, keep_advice
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.studies.counts.quarter import count_quarter
from wearstats.studies.demo import demo_as_of
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.review.study import ReviewStudy, last_finished, study_review
from wearstats.studies.snapshot import Snapshot

KEYS = {
    "quarter", "fittings", "failures", "returns", "hub_months", "failures_per_100_hub_months", "forecast_next",
    "earlier_forecasts", "signals", "at_risk", "actions",
}  # fmt: skip
SMALL = datetime.date(2026, 1, 1)


@pytest.fixture(scope="module")
def study(demo_review: ReviewStudy) -> ReviewStudy:
    return demo_review


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a shop of forty fittings of 1 January 2024, without readings or prices."""
    return make_store(
        tmp_path_factory.mktemp("review") / "small.duckdb", plain_frames() | shelf_counted("2024-08-10", "2025-12-20")
    )


def ask(path: Path, quarter: str | None, *, as_of: datetime.date = SMALL) -> ReviewStudy:
    with open_store(path) as store:
        asked = parse_quarter(quarter) if quarter else None
        return study_review(Snapshot(store=store, known_on=as_of), quarter=asked)


def test_document_bears_the_contract(study: ReviewStudy) -> None:
    document = plain(study)
    json.dumps(document, allow_nan=False)
    assert set(document) >= KEYS
    assert document["quarter"] == "2026Q3"
    assert document["forecast_next"]["level"] == 0.90
    assert {"quarter", "low", "high", "happened"} <= set(document["earlier_forecasts"][0])
    assert {"fitting", "shaft", "region", "gap_left_um", "told"} <= set(document["at_risk"][0])
    assert {"do", "what", "what_code", "number", "because", "because_code"} == set(document["actions"][0])


def test_counts_are_those_of_the_store(study: ReviewStudy, demo_store: Store) -> None:
    returned = demo_store.table(
        "select reason, count(*) as n from returns where returned_on between '2026-07-01' and '2026-09-30' group by all"
    )
    assert study.returns == dict(zip(returned["reason"], returned["n"], strict=True))
    sent = demo_store.table(
        "select count(*) as n from dispatches where sent_on between date '2026-07-01' and date '2026-09-30'"
    )
    assert study.sent == int(sent["n"].iloc[0])


def test_earlier_forecasts_hold_and_know_nothing_of_what_came(study: ReviewStudy) -> None:
    forecast = study.forecast
    assert forecast is not None
    assert len(forecast.earlier) >= 6
    # 90 in 100 promised: of seven quarters hardly ever more than two outside
    assert forecast.inside >= len(forecast.earlier) - 2
    assert forecast.watch is not None
    assert forecast.watch.ratio.low is not None
    assert forecast.watch.ratio.low <= 1.0


def test_a_past_quarter_is_predicted_the_same_whatever_came_later(study: ReviewStudy, demo: Snapshot) -> None:
    day = datetime.date(2026, 3, 31)
    then = study_review(demo.at(day, models_from=day))
    assert then.forecast is not None
    assert study.forecast is not None
    told = study.forecast.earlier.set_index("quarter").loc["2026Q2"]
    assert then.forecast.next_quarter.value == pytest.approx(told["expected"], rel=0.15)


def test_hubs_at_risk_are_those_with_the_highest_chance_and_are_in_use(study: ReviewStudy) -> None:
    assert study.forecast is not None
    frame = study.at_risk_frame()
    assert frame["risk_quarter"].is_monotonic_decreasing
    assert frame["risk_quarter"].iloc[0] == study.forecast.running["risk_quarter"].max()
    assert (frame["risk_quarter"] >= frame["loose_now"]).all()
    assert (frame["risk_year"] >= frame["risk_quarter"]).all()
    lines = review_sentences(study)
    assert STOP_FIRST in lines


def test_as_many_hubs_are_loose_without_word_as_the_invented_history_has(study: ReviewStudy) -> None:
    # the simulator knows when every hub worked loose, whether anybody said so or not
    fleet, _ = make_demo()
    assert study.forecast is not None
    running = study.forecast.running
    truth = fleet.truth.fittings.set_index("fitting").loc[running["fitting"]]
    age = (pd.Timestamp(demo_as_of()) - running["fitted_on"]).dt.days.to_numpy(dtype=float) / MEAN_MONTH_DAYS
    loose = truth["loose_months"].to_numpy(dtype=float) <= age
    predicted = running["loose_now"].to_numpy(dtype=float)
    spread = np.sqrt(np.sum(predicted * (1 - predicted)))
    assert abs(loose.sum() - predicted.sum()) < 3 * spread + 0.25 * predicted.sum()
    # and they are found among those that stand first
    assert loose[: len(loose) // 4].mean() > 2 * loose[len(loose) // 4 :].mean()


def test_tables_and_sentences_have_no_holes(study: ReviewStudy) -> None:
    for table in (rates_table(study), groups_table(study), forecasts_table(study), at_risk_table(study)):
        assert table is not None
        assert all("nan" not in cell.lower() for row in table.rows for cell in row)
    text = " ".join(review_sentences(study))
    assert "nan" not in text.lower().split()
    assert f"{study.counts.failures} hubs became known" in text


def test_sentences_follow_the_numbers(study: ReviewStudy) -> None:
    changed = replace(
        study,
        counts=replace(study.counts, failures=977, hub_months=54_321.0, change_p=0.0123),
        returns={"cracked": 883},
        sent=761,
        returns_next=replace(study.returns_next, value=655.0, low=544.0, high=766.0),
    )
    text = " ".join(review_sentences(changed))
    for told in (
        "977 hubs became",
        "54321 hub-months",
        "p = 0.012",
        "883 hubs came back, 761 went out",
        "cracked (883)",
    ):
        assert told in text
    assert "655 hubs (between 544 and 766, 90 % sure)" in text


def test_months_in_use_by_hand(small: Path) -> None:
    with open_store(small) as store:
        asked = Snapshot(store=store, known_on=SMALL)
        hubs = read_hubs_in_use(asked, histories_of(asked))
    frame = hubs.frame
    # all were fitted on 1 January 2024: a hub that was in use all quarter has its 91 days
    quarter = Quarter(year=2024, number=1)
    months = hubs.months_within(quarter.first_day, quarter.last_day)
    assert months.max() == pytest.approx(91 / 30.4375)
    assert frame.loc[frame["failed"], "to_on"].notna().all()
    whole = hubs.months_within(datetime.date(2020, 1, 1), SMALL)
    parts = sum(hubs.months_within(q.first_day, q.last_day) for q in [quarter.shifted(k) for k in range(-1, 9)])
    np.testing.assert_allclose(np.asarray(parts), np.asarray(whole), atol=1e-9)


def test_failures_count_in_the_quarter_in_which_they_became_known(small: Path) -> None:
    with open_store(small) as store:
        asked = Snapshot(store=store, known_on=SMALL)
        hubs = read_hubs_in_use(asked, histories_of(asked))
    counted = [count_quarter(hubs, quarter).failures for quarter in hubs.quarters()]
    assert sum(counted) == int(hubs.frame["failed"].sum())


def test_without_readings_the_forecast_takes_one_rate_for_all(small: Path) -> None:
    study = ask(small, "2024Q3")
    assert study.forecast is not None
    assert study.forecast.next_quarter.value is not None
    assert study.forecast.next_quarter.code == RateRemark.ONE_RATE_OF_HUBS
    assert "one rate for all hubs" in " ".join(review_sentences(study))
    assert study.forecast.money.value is None
    assert at_risk_table(study) is None
    assert forecasts_table(study) is None


def test_an_empty_quarter_says_so(small: Path) -> None:
    study = ask(small, "2023Q2")
    text = " ".join(review_sentences(study))
    assert "no hub was in use" in text
    assert "no hub was sent and none came back" in text


def test_advice_is_judged_by_the_hub_that_was_sent_next(tmp_path: Path) -> None:
    path = make_store(tmp_path / "small.duckdb", plain_frames())
    with open_store(path) as store:
        sent = store.table(
            "select d.shaft, d.sent_as, h.undersize_um from dispatches as d join hubs as h using (hub) order by d.shaft"
        )
    first, second = sent.iloc[0], sent.iloc[1]
    given = GivenAdvice(
        shaft=first["shaft"], given_on=datetime.date(2023, 12, 1), inspections=("I1",), do="send",
        undersize_um=float(first["undersize_um"]), method=first["sent_as"], risk=0.04, version="1",
    )  # fmt: skip
    other = replace(given, shaft=second["shaft"], undersize_um=float(second["undersize_um"]) + 25, method="as-supplied")
    late = replace(given, shaft=sent.iloc[2]["shaft"], given_on=datetime.date(2022, 1, 1))
    assert keep_advice(path, [given, other, late, replace(given, shaft="S-9", do="decline")]) == ""
    judged = ask(path, "2024Q3").advice
    assert judged.given == 4
    assert judged.by_following["followed"].tolist() == [False, True]
    assert judged.by_following["hubs"].tolist() == [1, 1]
    text = " ".join(review_sentences(ask(path, "2024Q3")))
    assert "this program's advice was followed for 1 hub" in text.replace("This", "this")


def test_a_quarter_not_over_says_so(small: Path) -> None:
    study = ask(small, "2024Q3", as_of=datetime.date(2024, 8, 15))
    assert not study.over
    assert "which is not over on 2024-08-15" in " ".join(review_sentences(study))


def test_a_quarter_that_the_records_do_not_reach_is_refused(demo: Snapshot) -> None:
    later = datetime.date(2027, 10, 30)
    told = r"2027Q3 is not on record; the records of it end on 2026-09-30.*--complete-to 2027-09-30.*--quarter 2026Q3"
    with pytest.raises(AnalysisError, match=told):
        study_review(demo.at(later, models_from=later))


def test_the_first_quarter_has_no_others_like_it(small: Path, study: ReviewStudy) -> None:
    first = ask(small, "2023Q4")
    assert first.returns_quarters == 1
    assert "A quarter like this one brings back" in " ".join(review_sentences(first))
    assert study.returns_quarters == 5
    assert "A quarter like the last 5 brings back" in " ".join(review_sentences(study))


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        (0.4, 0.9, "in all fewer became known than chance makes of what was predicted"),
        (1.1, 1.9, "in all more failures became known than chance makes of what was predicted"),
        (0.7, 1.4, "No alarm: failures have kept to what was predicted of them"),
    ],
)
def test_no_alarm_is_not_said_to_be_as_predicted_where_it_is_not(
    study: ReviewStudy, low: float, high: float, told: str
) -> None:
    forecast = study.forecast
    assert forecast is not None
    assert forecast.watch is not None
    ratio = replace(forecast.watch.ratio, value=(low + high) / 2, low=low, high=high)
    watch = replace(forecast.watch, ratio=ratio, sums={})
    text = " ".join(review_sentences(replace(study, forecast=replace(forecast, watch=watch))))
    assert told in text


def test_with_no_hub_in_use_nothing_is_predicted(study: ReviewStudy) -> None:
    forecast = study.forecast
    assert forecast is not None
    text = " ".join(review_sentences(replace(study, forecast=replace(forecast, hubs=0))))
    assert "No hub is in use now, so that nothing is predicted." in text
    assert "Of the hubs now in use" not in text


def test_a_quarter_to_come_is_refused(small: Path) -> None:
    with pytest.raises(UsageError, match="had not begun on 2026-01-01; the last one over is 2025Q4"):
        ask(small, "2026Q3")


def test_the_last_quarter_that_is_over_is_the_default(small: Path) -> None:
    assert str(ask(small, None).quarter) == "2025Q4"
    assert str(last_finished(datetime.date(2026, 3, 31))) == "2026Q1"
    assert str(last_finished(datetime.date(2026, 3, 30))) == "2025Q4"


def test_nothing_on_record_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.duckdb"
    create_store(path)
    with pytest.raises(AnalysisError, match="nothing was sent"):
        ask(path, None)


def test_one_pattern_alone(demo: Snapshot) -> None:
    study = study_review(demo.of("D10"))
    assert study.counts.groups[study.counts.groups["by"] == "pattern"]["group"].tolist() == ["D10"]
    assert study.forecast is not None
    assert set(study.forecast.running["pattern"]) == {"D10"}


def test_groups_add_up(study: ReviewStudy) -> None:
    groups = study.counts.groups
    for by in ("pattern", "method_sent", "undersize_um"):
        part = groups[groups["by"] == by]
        assert part["failures"].sum() == study.counts.failures
        assert part["hub_months"].sum() == pytest.approx(study.counts.hub_months)
    assert (groups["p_adjusted"] >= groups["p"] - 1e-12).all()


def test_months_before_the_first_fitting_are_none(study: ReviewStudy) -> None:
    frame = study.counts.by_quarter
    assert isinstance(frame, pd.DataFrame)
    assert frame["quarter"].is_monotonic_increasing
    assert frame["hub_months"].iloc[0] > 0
