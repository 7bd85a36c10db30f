"""What becomes of each kind of history: one small case a rule."""

import datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.history_frames import AS_OF, fitting, histories, only
from wearstats.analysis.histories.build import build_histories
from wearstats.analysis.histories.remarks import HistoryRemark
from wearstats.analysis.remark import Remark
from wearstats.errors import AnalysisError

MONTH = 30.4375  # a twelfth of 365.25 days


def months(first: str, last: str) -> float:
    return (datetime.date.fromisoformat(last) - datetime.date.fromisoformat(first)).days / MONTH


def test_failure_found_by_asking_lies_anywhere_since_last_tight() -> None:
    row = only(
        histories(
            [fitting("F1")],
            [("F1", "2024-06-01", "tight", "asked"), ("F1", "2025-01-01", "loose", "asked", "flanks")],
        )
    )
    assert row["outcome"] == "failed"
    assert row["last_tight_months"] == row["failed_after_months"] == pytest.approx(months("2024-01-01", "2024-06-01"))
    assert row["first_bad_months"] == pytest.approx(months("2024-01-01", "2025-01-01"))
    assert row["observed_months"] == pytest.approx((row["failed_after_months"] + row["first_bad_months"]) / 2)
    assert np.isnan(row["silent_since_months"])


def test_unasked_report_dates_the_failure() -> None:
    events = [("F1", "2024-06-01", "tight", "asked"), ("F1", "2025-01-01", "broken", "unasked", "flanks")]
    row = only(histories([fitting("F1")], events))
    assert row["first_bad_months"] - row["failed_after_months"] == pytest.approx(1.0)
    assert row["last_tight_months"] == pytest.approx(months("2024-01-01", "2024-06-01"))
    wide = only(histories([fitting("F1")], events, unasked_within_months=99.0))
    assert wide["failed_after_months"] == wide["last_tight_months"]


def test_hub_without_end_is_silent_since_its_last_word() -> None:
    row = only(
        histories([fitting("F1")], [("F1", "2024-06-01", "tight", "asked"), ("F1", "2025-06-01", "no-answer", "asked")])
    )
    assert row["outcome"] == "running"
    assert row["silent_since_months"] == row["observed_months"] == pytest.approx(months("2024-01-01", "2024-06-01"))
    assert row["silent_until_months"] == row["age_months"] == pytest.approx(months("2024-01-01", "2026-01-01"))
    assert row["asked_in_vain"] == 1
    assert row["first_bad_months"] == np.inf


def test_no_word_at_all() -> None:
    row = only(histories([fitting("F1")]))
    assert (row["outcome"], row["silent_since_months"], row["observed_months"]) == ("no-word", 0.0, 0.0)


@pytest.mark.parametrize(
    ("state", "cause", "outcome"),
    [
        ("loose", "flanks", "failed"),
        ("loose", "unknown", "failed"),
        ("loose", None, "failed"),
        ("broken", None, "failed"),
        ("loose", "nut-slack", "other-cause"),
        ("loose", "register", "other-cause"),
        ("broken", "hub-cracked", "other-cause"),
        ("broken", "overload", "other-cause"),
        ("removed", "flanks", "failed"),
        ("removed", "shaft-broken", "other-cause"),
        ("removed", "unknown", "removed"),
        ("removed", None, "removed"),
    ],
)
def test_outcome_by_state_and_cause(state: str, cause: str | None, outcome: str) -> None:
    row = only(histories([fitting("F1")], [("F1", "2024-07-01", state, "unasked", cause)]))
    assert row["outcome"] == outcome
    if outcome != "failed":
        assert row["observed_months"] == pytest.approx(months("2024-01-01", "2024-07-01"))


def test_end_found_by_asking_is_put_in_the_middle() -> None:
    row = only(
        histories([fitting("F1")], [("F1", "2024-03-01", "tight", "asked"), ("F1", "2024-07-01", "removed", "asked")])
    )
    middle = (months("2024-01-01", "2024-03-01") + months("2024-01-01", "2024-07-01")) / 2
    assert row["observed_months"] == pytest.approx(middle)


def test_slack_nut_that_was_put_right_ran_on() -> None:
    events = [("F1", "2024-03-01", "loose", "asked", "nut-slack"), ("F1", "2024-09-01", "tight", "asked")]
    assert only(histories([fitting("F1")], events))["outcome"] == "running"
    later = [*events, ("F1", "2025-03-01", "loose", "unasked", "flanks")]
    assert only(histories([fitting("F1")], later))["outcome"] == "failed"


def test_taken_off_and_then_found_loose_had_failed_by_the_day_it_came_off() -> None:
    row = only(
        histories(
            [fitting("F1")],
            [("F1", "2024-09-01", "removed", "unasked")],
            returns=[("H1", "2024-10-01", "worked-loose")],
        )
    )
    assert row["outcome"] == "failed"
    assert row["first_bad_months"] == pytest.approx(months("2024-01-01", "2024-09-01"))


@pytest.mark.parametrize(
    ("reason", "outcome"),
    [
        ("worked-loose", "failed"), ("cracked", "other-cause"), ("not-needed", "removed"), ("other", "removed"),
        ("slack-on-trial", "returned-unfitted"), ("would-not-go-on", "would-not"),
    ],
)  # fmt: skip
def test_hub_that_comes_back(reason: str, outcome: str) -> None:
    by_fitting = histories([fitting("F1")], returns=[("H1", "2024-07-01", reason, "F1")])
    by_hub = histories([fitting("F1")], returns=[("H1", "2024-07-01", reason)])
    for found in (by_fitting, by_hub):
        assert only(found)["outcome"] == outcome
    assert only(by_hub)["reason"] == reason
    assert len(by_hub.ran) == (outcome not in ("returned-unfitted", "would-not"))


def test_dispatch_without_a_fitting_is_a_history() -> None:
    found = histories(
        [],
        dispatches=[("H1", "2025-01-01", "S1", "as-supplied"), ("H2", "2025-01-01", "S2"), ("H3", "2025-02-01", "S3")],
        returns=[("H2", "2025-02-01", "second-size-back"), ("H3", "2025-03-01", "would-not-go-on")],
    )
    assert found.frame["kind"].eq("dispatch").all()
    assert found.frame["outcome"].tolist() == ["no-word", "returned-unfitted", "would-not"]
    assert found.frame["silent_until_months"].tolist()[0] == pytest.approx(months("2025-01-01", "2026-01-01"))
    assert found.ran.empty


def test_hub_sent_twice_belongs_to_the_last_dispatch_before_its_fitting() -> None:
    found = histories(
        [fitting("F1", "2024-06-10", method="owner-fitted")],
        dispatches=[
            ("H1", "2024-01-01", "S9", "workshop-fitted"), ("H1", "2024-06-01", "S1", "as-supplied"),
            ("H1", "2025-06-01", "S8", "owner-fitted"),
        ],
        returns=[("H1", "2024-02-01", "wrong-pattern")],
    )  # fmt: skip
    by_kind = found.frame.set_index("kind")["outcome"]
    assert by_kind["dispatch"].tolist() == ["returned-unfitted", "no-word"]
    row = found.ran.iloc[0]
    assert (row["method_sent"], row["method_done"]) == ("as-supplied", "owner-fitted")
    assert row["sent_on"] == pd.Timestamp("2024-06-01")


def test_method_done_stands_in_for_advice_not_recorded() -> None:
    row = only(histories([fitting("F1", method="as-supplied")], dispatches=[("H1", "2023-12-20", "S1")]))
    assert (row["method_sent"], row["method_sent_known"]) == ("as-supplied", False)
    assert row["period"] == "2023H2"


def test_month_and_missing_dates() -> None:
    month = only(
        histories(
            [fitting("F1", fitted_from="2024-02-01", fitted_to="2024-02-29")], dispatches=[("H1", "2024-02-11", "S1")]
        )
    )
    assert (month["origin_from"], month["origin_to"]) == (pd.Timestamp("2024-02-11"), pd.Timestamp("2024-02-29"))
    assert month["origin_on"] == pd.Timestamp("2024-02-20")
    missing = only(
        histories([fitting("F1", None)], [("F1", "2024-03-01", "tight")], dispatches=[("H1", "2024-01-01", "S1")])
    )
    assert (missing["origin_from"], missing["origin_to"]) == (pd.Timestamp("2024-01-01"), pd.Timestamp("2024-03-01"))
    assert missing["origin_on"] == pd.Timestamp("2024-01-31")


def test_missing_date_takes_the_usual_delay_where_ten_are_dated() -> None:
    dated = [fitting(f"F{number}", "2024-01-15") for number in range(1, 11)]
    sent = [(f"H{number}", "2024-01-05", f"S{number}") for number in range(1, 12)]
    found = histories([*dated, fitting("F11", None)], [("F11", "2025-01-05", "loose", "unasked")], dispatches=sent)
    row = found.frame.set_index("fitting").loc["F11"]
    assert row["origin_on"] == pd.Timestamp("2024-01-15")
    assert (row["origin_from"], row["origin_to"]) == (pd.Timestamp("2024-01-05"), pd.Timestamp("2025-01-05"))


def test_known_only_from_a_later_date() -> None:
    row = only(histories([fitting("F1", known_from="2025-01-01")], [("F1", "2025-06-01", "loose", "asked", "flanks")]))
    entry = months("2024-01-01", "2025-01-01")
    assert row["entry_months"] == row["last_tight_months"] == row["failed_after_months"] == pytest.approx(entry)


def test_next_hub_on_the_shaft_ends_the_silence() -> None:
    found = histories(
        [fitting("F1"), fitting("F2", "2025-01-01", shaft="S1")],
        [("F1", "2024-06-01", "tight", "asked"), ("F2", "2025-06-01", "tight", "asked")],
    )
    first, second = (row for _, row in found.frame.iterrows())
    assert first["superseded"]
    assert first["silent_until_months"] == pytest.approx(months("2024-01-01", "2025-01-01"))
    assert not second["superseded"]


def test_failure_heard_of_after_the_next_hub_came_before_it() -> None:
    found = histories(
        [fitting("F1"), fitting("F2", "2025-01-01", shaft="S1")],
        [("F1", "2024-06-01", "tight", "asked"), ("F1", "2025-02-01", "loose", "asked")],
    )
    assert found.frame["first_bad_months"].tolist()[0] == pytest.approx(months("2024-01-01", "2025-01-01"))


LEFT_OUT: dict[HistoryRemark, dict[str, Any]] = {
    HistoryRemark.TIGHT_AFTER: {
        "fittings": [fitting("F1")],
        "follow_ups": [("F1", "2024-05-01", "broken", "asked", "flanks"), ("F1", "2024-09-01", "tight", "asked")],
    },
    HistoryRemark.NEWS_BEFORE: {
        "fittings": [fitting("F1")],
        "follow_ups": [("F1", "2023-12-01", "tight", "asked")],
    },
    HistoryRemark.BEFORE_SENT: {
        "fittings": [fitting("F1")],
        "dispatches": [("H1", "2024-02-01", "S1", "as-supplied")],
    },
    HistoryRemark.UNDATED: {"fittings": [fitting("F1", None)]},
    HistoryRemark.WOULD_NOT_YET_RAN: {
        "fittings": [fitting("F1", went_on="would-not")],
        "follow_ups": [("F1", "2024-05-01", "tight", "asked")],
    },
    HistoryRemark.KNOWN_LATE: {
        "fittings": [fitting("F1", known_from="2024-05-01")],
        "follow_ups": [("F1", "2024-05-01", "loose", "unasked", "flanks")],
    },
}


@pytest.mark.parametrize("why", list(LEFT_OUT))
def test_contradictions_are_left_out_with_the_reason(why: HistoryRemark) -> None:
    found = histories(**LEFT_OUT[why])
    assert found.left_out_counts() == {Remark(why): 1}
    assert not found.frame["kind"].eq("fitting").any()
    assert found.left_out["fitting"].tolist() == ["F1"]


def test_two_hubs_on_one_shaft_at_once_and_one_hub_on_two_shafts() -> None:
    both = histories(
        [fitting("F1"), fitting("F2", "2024-06-01", shaft="S1"), fitting("F3"), fitting("F4", "2024-06-01", hub="H3")],
        [("F1", "2024-09-01", "tight", "asked"), ("F3", "2024-09-01", "tight", "asked")],
    )
    assert both.frame.empty
    assert both.left_out_counts() == {Remark(HistoryRemark.OVERLAPS): 4}


def test_a_hub_seen_tight_on_the_day_another_took_its_place_contradicts_nothing() -> None:
    both = histories(
        [fitting("F1"), fitting("F2", "2024-06-01", shaft="S1")],
        [("F1", "2024-06-01", "tight", "asked"), ("F2", "2024-09-01", "tight", "asked")],
    )
    assert set(both.ran["fitting"]) == {"F1", "F2"}


def test_workshop_fits_before_it_sends() -> None:
    row = only(
        histories([fitting("F1", method="workshop-fitted")], dispatches=[("H1", "2024-02-01", "S1", "workshop-fitted")])
    )
    assert row["method_sent_known"]
    assert row["origin_on"] == pd.Timestamp("2024-01-01")


def test_hub_that_would_not_go_on_may_be_followed_by_another_at_once() -> None:
    found = histories(
        [fitting("F1", went_on="would-not"), fitting("F2", shaft="S1")], [("F2", "2024-09-01", "tight", "asked")]
    )
    assert found.frame["outcome"].tolist() == ["would-not", "running"]


def test_failure_on_the_day_of_fitting_has_a_time() -> None:
    row = only(histories([fitting("F1")], [("F1", "2024-01-01", "loose", "unasked", "flanks")]))
    assert 0 < row["first_bad_months"] < 0.05
    assert row["failed_after_months"] == 0


def test_nothing_at_all() -> None:
    found = histories([])
    assert found.frame.empty
    assert found.ran.empty
    assert found.left_out_counts() == {}


def test_frame_without_a_column_is_refused() -> None:
    with pytest.raises(AnalysisError, match="the frame of fittings lacks fitting, shaft"):
        build_histories(
            fittings=pd.DataFrame(),
            follow_ups=pd.DataFrame(),
            dispatches=pd.DataFrame(),
            returns=pd.DataFrame(),
            as_of=AS_OF,
        )


def test_the_middle_of_an_uneven_stretch_is_told_by_the_day_that_has_begun() -> None:
    # 19 days from the 10th on: the middle falls at noon of the 19th
    row = histories([fitting("F1", fitted_from="2024-02-10", fitted_to="2024-02-29")]).ran.iloc[0]
    assert row["origin_on"] == pd.Timestamp("2024-02-19")


def test_tight_and_loose_on_one_day_is_a_failure_of_that_day() -> None:
    news = [("F1", "2024-05-01", "tight", "asked"), ("F1", "2024-05-01", "loose", "asked", "flanks")]
    row = only(histories([fitting("F1")], news))
    assert row["outcome"] == "failed"
    assert row["first_bad_months"] == pytest.approx(months("2024-01-01", "2024-05-01"), abs=0.05)
