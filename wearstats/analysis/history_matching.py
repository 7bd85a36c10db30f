"""Which dispatch, fitting and return belong together, and when each was, in days before the day asked about."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd

from wearstats.domain.frames import METHODS

WORKSHOP_FITTED = METHODS[2]


def days_before(dates: pd.Series[Any], as_of: datetime.date) -> pd.Series[float]:
    """Count days from the day asked about: negative before it, NaN where missing."""
    return (pd.to_datetime(dates) - pd.Timestamp(as_of)).dt.total_seconds() / 86400.0


def later(one: pd.Series[float], other: pd.Series[float]) -> pd.Series[float]:
    """Take the later of two, the one that is there where the other is missing."""
    return pd.Series(np.fmax(one.to_numpy(dtype=float), other.to_numpy(dtype=float)), index=one.index)


def earlier(one: pd.Series[float], other: pd.Series[float]) -> pd.Series[float]:
    """Take the earlier of two, the one that is there where the other is missing."""
    return -later(-one, -other)


def dispatch_days(dispatches: pd.DataFrame, as_of: datetime.date) -> pd.DataFrame:
    """Give each dispatch a number and its ``sent_day``."""
    sent = dispatches.reset_index(drop=True)
    return sent.assign(row=sent.index, sent_day=days_before(sent["sent_on"], as_of))


def fitting_days(fittings: pd.DataFrame, as_of: datetime.date) -> pd.DataFrame:
    """Add ``fitted_from_day``, ``fitted_to_day``, ``known_from_day``."""
    days = {f"{name}_day": days_before(fittings[name], as_of) for name in ("fitted_from", "fitted_to", "known_from")}
    return fittings.reset_index(drop=True).assign(**{name: day.to_numpy() for name, day in days.items()})


def match_dispatches(rows: pd.DataFrame, sent: pd.DataFrame, answers: pd.DataFrame, back: pd.DataFrame) -> pd.DataFrame:
    """Find the last dispatch of each fitting's hub before it was fitted; of workshop fittings also the next after it.

    A fitting without a date was made before its first news, or before it was known, or by now.
    """
    news = pd.concat([answers[["fitting", "day"]], back.loc[back["fitting"].notna(), ["fitting", "day"]]])
    first = rows["fitting"].map(news.groupby("fitting")["day"].min())
    latest = rows["fitted_to_day"].fillna(first).fillna(rows["known_from_day"]).fillna(0.0)
    wanted = pd.DataFrame({"hub": rows["hub"], "latest": latest, "order": rows.index}).sort_values("latest")
    there = sent[["hub", "sent_day", "row", "shaft", "sent_as"]].dropna(subset=["sent_day"]).sort_values("sent_day")
    there = there.rename(columns={"row": "dispatch_row", "shaft": "sent_for"})
    found = [
        pd.merge_asof(wanted, there, left_on="latest", right_on="sent_day", by="hub", direction=direction)
        .set_index("order")
        .reindex(rows.index)
        for direction in ("backward", "forward")
    ]
    before, after = found
    none_before = before["dispatch_row"].isna()
    same_shaft = after["sent_for"].isna() | after["sent_for"].eq(rows["shaft"])
    later = none_before & after["dispatch_row"].notna() & same_shaft
    by_workshop = later & rows["method"].eq(WORKSHOP_FITTED)
    matched = before.where(~by_workshop, after)
    rows = rows.assign(
        dispatch_row=matched["dispatch_row"],
        sent_as=matched["sent_as"],
        sent_day=matched["sent_day"],
        fitted_before_sent=later & ~by_workshop,
    )
    # a hub that the workshop fitted may be sent with its shaft afterwards: such a dispatch bounds nothing
    return rows.assign(earliest_day=rows["sent_day"].where(~by_workshop))


def match_returns(back: pd.DataFrame, rows: pd.DataFrame, unfitted: pd.DataFrame) -> pd.DataFrame:
    """Give each return without a fitting to the last placing of its hub: a fitting, or a dispatch never fitted."""
    start = rows["fitted_from_day"].fillna(rows["earliest_day"])
    placed = pd.concat(
        [
            pd.DataFrame({"hub": rows["hub"], "start": start, "of_fitting": rows["fitting"], "of_dispatch": np.nan}),
            pd.DataFrame({"hub": unfitted["hub"], "start": unfitted["sent_day"], "of_dispatch": unfitted["row"]}),
        ]
    )
    placed = placed.dropna(subset=["start"]).sort_values("start")
    ordered = back.reset_index(drop=True).sort_values("day")
    found = pd.merge_asof(ordered, placed, left_on="day", right_on="start", by="hub", direction="backward")
    named = found["fitting"].notna()
    return found.assign(
        fitting=found["fitting"].where(named, found["of_fitting"]),
        of_dispatch=found["of_dispatch"].where(~named),
    )
