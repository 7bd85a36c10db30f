"""Small frames of fittings and what was heard of them, as the store gives them."""

import datetime
from collections.abc import Iterable
from typing import Any

import pandas as pd

from wearstats.analysis.histories.build import UNASKED_WITHIN_MONTHS, Histories, build_histories
from wearstats.analysis.histories.records_end import OutcomesEnd

AS_OF = datetime.date(2026, 1, 1)
_FITTING: dict[str, Any] = {
    "shaft": None, "hub": None, "method": "owner-fitted", "fitted_from": None, "fitted_to": None, "known_from": None,
    "went_on": None, "pattern": "D8", "duty": "daily",
}  # fmt: skip
_COLUMNS = {
    "follow_ups": ("fitting", "seen_on", "state", "prompted", "cause", "failed_on"),
    "dispatches": ("hub", "sent_on", "shaft", "sent_as"),
    "returns": ("hub", "returned_on", "reason", "fitting", "failed_on"),
}


def fitting(name: str, fitted_on: str | None = "2024-01-01", **others: Any) -> dict[str, Any]:
    """One fitting, on its own shaft and hub, fitted on a day unless told otherwise."""
    number = name[1:]
    dates = {"fitted_from": fitted_on, "fitted_to": fitted_on}
    return {"fitting": name, **_FITTING, "shaft": f"S{number}", "hub": f"H{number}", **dates, **others}


def histories(
    fittings: Iterable[dict[str, Any]],
    follow_ups: Iterable[tuple[Any, ...]] = (),
    dispatches: Iterable[tuple[Any, ...]] = (),
    returns: Iterable[tuple[Any, ...]] = (),
    unasked_within_months: float = UNASKED_WITHIN_MONTHS,
    ends: OutcomesEnd | None = None,
) -> Histories:
    """Put frames together and build their histories; rows are written as in `_COLUMNS`."""
    rows_told = list(fittings)
    further = ["region"] if any("region" in row for row in rows_told) else []
    told = pd.DataFrame(rows_told, columns=["fitting", *_FITTING, *further])
    rows = {"follow_ups": follow_ups, "dispatches": dispatches, "returns": returns}
    frames = {
        name: pd.DataFrame(
            [(*row, *[None] * (len(_COLUMNS[name]) - len(row))) for row in rows[name]], columns=list(_COLUMNS[name])
        )
        for name in rows
    }
    for frame in (told, *frames.values()):
        for column in frame.columns.intersection(
            ["fitted_from", "fitted_to", "known_from", "seen_on", "sent_on", "returned_on", "failed_on"]
        ):
            frame[column] = pd.to_datetime(frame[column])
    return build_histories(
        fittings=told,
        follow_ups=frames["follow_ups"],
        dispatches=frames["dispatches"],
        returns=frames["returns"],
        as_of=AS_OF,
        ends=ends,
        unasked_within_months=unasked_within_months,
    )


def only(found: Histories) -> "pd.Series[Any]":
    """The history of the only row."""
    assert len(found.frame) == 1, found.left_out
    return found.frame.iloc[0]
