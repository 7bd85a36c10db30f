"""What the follow-ups and returns say of each fitting: when last tight, when first bad, when and why it ended.

How an answer is read:

* loose or broken by the flanks, or with no cause known, is a failure (an unknown cause is counted against the fit, the
  safe side); so is a hub taken off because of its flanks, or sent back as worked loose;
* loose or broken for another cause (nut slack, register, cracked hub, broken shaft, overload, other) ends the history
  for that cause, except that a looseness after which the hub was seen tight, or the flanks failed, was put right, or
  misread, and the hub ran on;
* taken off and then found loose or broken: it had failed by the day it was taken off;
* tight after the flanks had failed or after the hub was taken off contradicts itself.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

FLANK_CAUSES = ("flanks", "unknown")
# reasons for which a hub comes back without ever having run
NEVER_RAN_REASONS = (
    "would-not-go-on",
    "slack-on-trial",
    "filed-too-far",
    "register-misfit",
    "wrong-pattern",
    "sent-wrong",
    "second-size-back",
    "post-damage",
)
TIGHT, BAD, OTHER, REMOVED, NEVER_RAN, SILENT = "tight", "bad", "other", "removed", "never-ran", "no-answer"


def events_of_follow_ups(follow_ups: pd.DataFrame) -> pd.DataFrame:
    """Read answers as events.

    Parameters
    ----------
    follow_ups : DataFrame
        Columns ``fitting``, ``day`` (float), ``state``, ``prompted``, ``cause``; where it was asked ``failed_day``.

    Returns
    -------
    DataFrame
        Columns ``fitting``, ``day``, ``kind``, ``curable`` (a looseness that could be put right), ``unasked``,
        ``prompted`` (None where not recorded), ``cause``, ``failed_day`` (when it is said to have come loose).
    """
    state, cause = follow_ups["state"], follow_ups["cause"]
    spoilt = state.isin(["loose", "broken"])
    flanks = cause.isin(FLANK_CAUSES) | (spoilt & cause.isna())
    blamed = cause.notna() & ~cause.isin(["unknown"])
    removed = state.eq("removed")
    # the first that holds counts: a hub loose or broken not by the flanks is lost otherwise; one taken off and blamed
    # for nothing may have come off with its engine
    kind = np.select(
        [
            state.eq("tight"),
            (spoilt & flanks) | (removed & cause.eq("flanks")),
            spoilt | (removed & blamed),
            removed,
        ],
        [TIGHT, BAD, OTHER, REMOVED],
        default=SILENT,
    )
    return pd.DataFrame(
        {
            "fitting": follow_ups["fitting"],
            "day": follow_ups["day"],
            "kind": kind,
            "curable": state.eq("loose"),
            "prompted": follow_ups["prompted"],
            "cause": cause,
            "reason": None,
            "failed_day": _failed_days(follow_ups),
        }
    )


def events_of_returns(returns: pd.DataFrame) -> pd.DataFrame:
    """Read hubs sent back as events; columns ``fitting``, ``day`` and ``reason``, result as `events_of_follow_ups`."""
    reason = returns["reason"]
    kind = np.select(
        [reason.eq("worked-loose"), reason.eq("cracked"), reason.isin(NEVER_RAN_REASONS)],
        [BAD, OTHER, NEVER_RAN],
        default=REMOVED,
    )
    cause = np.select([reason.eq("worked-loose"), reason.eq("cracked")], ["flanks", "hub-cracked"], default="")
    return pd.DataFrame(
        {
            "fitting": returns["fitting"],
            "day": returns["day"],
            "kind": kind,
            "curable": False,
            "prompted": "unasked",
            "cause": pd.Series(cause, index=returns.index).replace("", None),
            "reason": reason,
            "failed_day": _failed_days(returns),
        }
    )


def _failed_days(told: pd.DataFrame) -> pd.Series[float]:
    """Give the days on which hubs are said to have come loose; NaN where nothing is said, or nobody was asked."""
    return told["failed_day"] if "failed_day" in told else pd.Series(np.nan, index=told.index)


def summarise_events(events: pd.DataFrame) -> pd.DataFrame:
    """Reduce the events to one row a fitting.

    Parameters
    ----------
    events : DataFrame
        As `events_of_follow_ups` and `events_of_returns` give them, concatenated.

    Returns
    -------
    DataFrame
        Index ``fitting``; columns ``first_news``, ``last_tight``, ``bad``, ``failed_day`` (when it is said to have come
        loose, the first that is said), ``end`` (days; NaN if none), ``end_kind`` (other, removed, never-ran),
        ``prompted`` and ``cause`` of the failure or else of the end, ``reason`` (of a return), ``asked_in_vain`` (asked
        since the last news, without answer), ``contradicts`` (tight after failing or being taken off).
    """
    ordered = events.sort_values(["fitting", "day"], kind="stable")
    news = ordered[ordered["kind"] != SILENT]
    summary = pd.DataFrame(index=pd.Index(ordered["fitting"].unique(), name="fitting"))
    day_of = {kind: news[news["kind"] == kind].groupby("fitting")["day"] for kind in (TIGHT, BAD, REMOVED)}
    summary["first_news"] = news.groupby("fitting")["day"].min()
    summary["last_tight"] = day_of[TIGHT].max()
    last_tight = news["fitting"].map(summary["last_tight"])
    last_bad = news["fitting"].map(day_of[BAD].max())
    put_right = (news["kind"] == OTHER) & news["curable"] & (news["day"] < np.fmax(last_tight, last_bad))
    lasting = news[~put_right]

    first_bad = _first(lasting, [BAD])
    first_end = _first(lasting, [OTHER, REMOVED, NEVER_RAN]).reindex(summary.index)
    bad = first_bad.reindex(summary.index)
    summary["bad"] = bad["day"]
    summary["end"] = first_end["day"]
    summary["end_kind"] = first_end["kind"]
    # taken off first and only then found loose: the earlier day bounds the failure, and how it was heard of
    off_first = (first_end["day"] < bad["day"]) & first_end["kind"].eq(REMOVED)
    summary["bad"] = summary["bad"].where(~off_first, first_end["day"])
    prompted = bad["prompted"].where(~off_first, first_end["prompted"])
    lost_otherwise = summary["end"].notna() & first_end["kind"].ne(REMOVED) & (summary["end"] < summary["bad"])
    summary["bad"] = summary["bad"].where(~lost_otherwise)
    failed = summary["bad"].notna()
    # who wrote first and sent the hub later may have said the day only then
    said = lasting[lasting["kind"].eq(BAD)].groupby("fitting")["failed_day"].first()
    summary["failed_day"] = said.reindex(summary.index).where(failed)
    summary["prompted"] = prompted.where(failed, first_end["prompted"])
    summary["cause"] = bad["cause"].where(failed, first_end["cause"])
    summary["reason"] = news.dropna(subset=["reason"]).groupby("fitting")["reason"].first()
    summary["contradicts"] = (summary["last_tight"] > summary["bad"]) | (summary["last_tight"] > summary["end"])
    last_news = ordered["fitting"].map(news.groupby("fitting")["day"].max())
    vain = (ordered["kind"] == SILENT) & ~(ordered["day"] <= last_news)
    summary["asked_in_vain"] = vain.groupby(ordered["fitting"]).sum().astype("int64")
    return summary


def _first(events: pd.DataFrame, kinds: list[str]) -> pd.DataFrame:
    """Earliest event of these kinds, a row a fitting."""
    return events[events["kind"].isin(kinds)].drop_duplicates("fitting").set_index("fitting")
