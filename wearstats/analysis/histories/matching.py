"""Which dispatch, fitting and return belong together, and when each was, in days before the day asked about."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.histories.codes import Names
from wearstats.domain.tables import METHODS, SCRAPPED

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
    heard = answers[answers["state"].ne("no-answer")]
    news = pd.concat([heard[["fitting", "day"]], back.loc[back["fitting"].notna(), ["fitting", "day"]]])
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


def add_unrecorded(
    unfitted: pd.DataFrame, back: pd.DataFrame, rows: pd.DataFrame, names: Names
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Make fittings of hubs sent that came back as worked loose, though no fitting of them is on record.

    Parameters
    ----------
    unfitted, back, rows : DataFrame
        Dispatches never fitted, returns as `match_returns` gives them, and fittings as `match_dispatches` does.
    names : Names
        What fittings, shafts and hubs are called.

    Returns
    -------
    tuple of DataFrame
        The same three; the fittings with ``unrecorded``, and among them the new ones, without a date and done as they
        were sent.
    """
    ran = back.loc[back["reason"].eq("worked-loose"), "of_dispatch"].dropna()
    moved = unfitted["row"].isin(ran)
    rows = rows.assign(unrecorded=False)
    if not moved.any():
        return unfitted, back, rows
    new = unfitted[moved]
    called = names.of_dispatches("fitting", new["row"])
    # a hub sent for no shaft in particular has one of its own, which nothing else shares
    made = new.assign(
        fitting=called,
        shaft=new["shaft"].fillna(names.of_dispatches("shaft", new["row"])),
        method=new["sent_as"],
        dispatch_row=new["row"],
        earliest_day=new["sent_day"],
        fitted_before_sent=False,
        unrecorded=True,
    ).reindex(columns=rows.columns)
    both = pd.concat([rows, made.astype(rows.dtypes.to_dict())], ignore_index=True)
    by_row = pd.Series(called.to_numpy(), index=new["row"].to_numpy())
    theirs = back["of_dispatch"].isin(new["row"])
    named = back["fitting"].where(~theirs, back["of_dispatch"].map(by_row))
    return unfitted[~moved], back.assign(fitting=named, of_dispatch=back["of_dispatch"].where(~theirs)), both


def clashing(ran: pd.DataFrame, key: str) -> NDArray[np.int64]:
    """Find fittings seen tight after another had surely been made on their shaft (or of their hub), and those others.

    Parameters
    ----------
    ran : DataFrame
        Fittings with ``origin_from_day``, ``origin_to_day``, ``last_tight``.
    key : str
        ``shaft`` or ``hub``.

    Returns
    -------
    ndarray of int
        Their index labels. Of two that may have been made in either order nothing is said, unless both were made on the
        same day and both seen tight afterwards.
    """
    ordered = ran.sort_values(["origin_from_day", "origin_to_day", "fitting"], kind="stable")
    sides = ordered.assign(order=ordered.index)
    first = sides[[key, "origin_to_day", "last_tight", "order"]].sort_values("origin_to_day", kind="stable")
    then = sides[[key, "origin_from_day", "origin_to_day", "order"]].rename(
        columns={"origin_from_day": "then_from", "origin_to_day": "then_to", "order": "then"}
    )
    pairs = pd.merge_asof(
        first.dropna(subset=["origin_to_day"]),
        then.dropna(subset=["then_from"]).drop_duplicates([key, "then_from"]),
        left_on="origin_to_day",
        right_on="then_from",
        by=key,
        direction="forward",
        allow_exact_matches=False,
    )
    clash = pairs[pairs["last_tight"] > pairs["then_to"]]
    seen_later = (ran["last_tight"] > ran["origin_to_day"]) & ran["origin_from_day"].eq(ran["origin_to_day"])
    together = ran[
        seen_later & ran.assign(seen_later=seen_later).duplicated([key, "origin_to_day", "seen_later"], keep=False)
    ]
    return np.concatenate([clash["order"], clash["then"], together.index]).astype(np.int64)


def days_of_events(events: pd.DataFrame, as_of: datetime.date) -> pd.DataFrame:
    """Give ``shaft`` and ``day`` of what was done to shafts, and whether they were ``scrapped``."""
    days = pd.DataFrame({"shaft": events["shaft"], "day": days_before(events["happened_on"], as_of)})
    return days.assign(scrapped=events["what"].eq(SCRAPPED) if "what" in events else False)


def next_event_days(rows: pd.DataFrame, events: pd.DataFrame) -> NDArray[np.float64]:
    """Find the first thing done to each fitting's shaft after it was fitted and last seen tight; NaN if none.

    No hub goes on a scrapped shaft: one that may have been fitted that day, or was seen tight then, went before.
    """
    done = _first_after(rows, later(rows["origin_to_day"], rows["last_tight"]), events, same_day=False)
    scrapped = events[events["scrapped"].astype(bool)]
    gone = _first_after(rows, later(rows["origin_from_day"], rows["last_tight"]), scrapped, same_day=True)
    return np.fmin(done, gone)


def _first_after(
    rows: pd.DataFrame, since: pd.Series[float], events: pd.DataFrame, *, same_day: bool
) -> NDArray[np.float64]:
    wanted = pd.DataFrame({"shaft": rows["shaft"], "since": since, "order": rows.index}).dropna(subset=["since"])
    found = pd.merge_asof(
        wanted.sort_values("since"),
        events[["shaft", "day"]].dropna().sort_values("day"),
        left_on="since",
        right_on="day",
        by="shaft",
        direction="forward",
        allow_exact_matches=same_day,
    )
    return found.set_index("order")["day"].reindex(rows.index).to_numpy(dtype=float)
