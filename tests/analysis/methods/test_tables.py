"""Which fittings enter the plain table, and what is counted as left out."""

import pandas as pd
import pytest

from tests.analysis.support.history_frames import fitting, histories
from wearstats.analysis.methods.tables import LEFT_OUT, hand_or_supplied, status_at, tabulate_methods

EVENTS = [
    ("F1", "2024-06-01", "loose", "unasked", "flanks"),  # failed within 12 months
    ("F2", "2025-03-01", "tight", "asked"),  # tight after 14
    ("F3", "2025-03-01", "loose", "asked", "flanks"),  # somewhere in the first 14
    ("F4", "2024-06-01", "removed", "unasked"),  # gone after 5
    ("F5", "2024-06-01", "tight", "asked"),  # no word since month 5
    ("F7", "2025-07-01", "loose", "unasked", "flanks"),  # failed, but its 12 months are not over
    ("F8", "2025-06-01", "loose", "unasked", "flanks"),  # known only from month 7
    ("F9", "2025-06-01", "loose", "unasked", "flanks"),  # tight at 12, failed at 17
    ("F10", "2025-03-01", "removed", "unasked"),  # gone, but after 14
]
STATUS = {
    "F1": "failed", "F2": "tight", "F3": "failed-about-then", "F4": "ended-otherwise", "F5": "silent", "F6": "silent",
    "F7": "horizon-not-passed", "F8": "known-late", "F9": "tight", "F10": "tight",
}  # fmt: skip


@pytest.fixture(scope="module")
def ran() -> pd.DataFrame:
    fittings = [
        fitting(f"F{number}", method="as-supplied" if number % 2 else "owner-fitted") for number in range(1, 11)
    ]
    fittings[6] |= {"fitted_from": "2025-06-01", "fitted_to": "2025-06-01"}
    fittings[7] |= {"known_from": "2024-08-01"}
    return histories(fittings, EVENTS).ran


def test_status_at_the_horizon(ran: pd.DataFrame) -> None:
    status = status_at(ran, 12.0)
    assert dict(zip(ran["fitting"], status, strict=True)) == STATUS


def test_table_and_what_is_left_out(ran: pd.DataFrame) -> None:
    found = tabulate_methods(ran, by="method_sent", horizon_months=12.0)
    assert found.table.to_rows() == [[1, 1], [0, 2]]
    assert found.left_out == {
        "horizon-not-passed": 1, "known-late": 1, "failed-about-then": 1, "ended-otherwise": 1, "silent": 2,
    }  # fmt: skip
    assert sum(found.left_out.values()) + found.table.first_total + found.table.second_total == len(ran)
    assert found.difference.value == pytest.approx(0.5)
    assert found.fisher is not None
    assert found.fisher.p_two_sided == pytest.approx(1.0)  # 2 of 4 ways of giving the one failure to a group
    assert found.stratified.strata == 1
    assert set(found.left_out) == set(LEFT_OUT)


def test_one_group_alone_is_not_compared(ran: pd.DataFrame) -> None:
    found = tabulate_methods(ran.assign(method_sent="as-supplied"), by="method_sent", horizon_months=12.0)
    assert found.fisher is None
    assert found.difference.status == "none"
    assert found.stratified.strata == 0


def test_without_strata_and_with_missing_duty(ran: pd.DataFrame) -> None:
    plain = tabulate_methods(ran, by="method_sent", horizon_months=12.0, strata=())
    assert plain.stratified.strata == 1
    missing = tabulate_methods(ran.assign(duty=None), by="method_sent", horizon_months=12.0)
    assert missing.stratified.strata == 1


def test_two_ways_by_hand_are_one_group() -> None:
    methods = pd.Series(["as-supplied", "owner-fitted", "workshop-fitted", None], dtype="str")
    assert hand_or_supplied(methods).tolist()[:3] == ["as-supplied", "hand-fitted", "hand-fitted"]
    assert hand_or_supplied(methods).isna().tolist() == [False, False, False, True]
