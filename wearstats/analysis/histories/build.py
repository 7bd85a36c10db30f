"""From what was sent, fitted, answered and returned to one history a fitting: when it was last tight, when first bad.

Choices made here, each in one place:

* **Time** runs in mean months from the fitting. A fitting known to the month lies within it, one without a date between
  its dispatch and its first news; both ends are kept (``origin_from``, ``origin_to``). Of a month the middle is used;
  without a date the dispatch and the usual delay of the dated ones (the middle, where fewer than ten are dated).
* **A failure whose day is told** lies within that day, where the hub was not seen tight after it.
* **An unasked report dates the failure**: it came as long before the report as of those whose day is told
  (`wearstats.analysis.histories.delays`); where few tell, within ``unasked_within_months`` (an owner whose hub has
  begun to rattle writes soon; common practice, no source). One found by asking lies anywhere since it was last tight.
* **An end for another cause** (taken off, nut slack, ...) is dated by an unasked report to its day and by an answer to
  the middle since the last news; up to then the hub had not failed.
* **Silence**: a fitting without an end was tight at its last news; what happened between then and the end of the
  records of outcomes (`wearstats.analysis.histories.records_end`), or the next hub on the same shaft, nobody knows.
  ``silent_since_months`` and ``silent_until_months`` carry that; of the days after the records' end not even silence is
  known. News from after a stated end came in by chance, and teaches nothing: ``cut_since_months``.
* **Known from a later date**: the fitting counts only from then on (``entry_months``); one that is on record only
  because it had failed says nothing and is left out.
* **No fitting on record**: a hub sent that came back as worked loose must have run; it is a fitting without a date,
  done as it was sent. Its sound fellows without a row are not known to have run: the risk may come out too large, not
  too small. All others sent and never fitted are histories of their own kind.
* **The shaft was dressed, built up, reground, replaced or scrapped**: its hub was off by then, as when another follows.
* Contradictions are left out, with the reason.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.histories.codes import encode_names
from wearstats.analysis.histories.delays import ReportDelay
from wearstats.analysis.histories.events import (
    SILENT,
    TIGHT,
    events_of_follow_ups,
    events_of_returns,
    summarise_events,
)
from wearstats.analysis.histories.matching import (
    add_unrecorded,
    clashing,
    days_before,
    days_of_events,
    dispatch_days,
    earlier,
    fitting_days,
    later,
    match_dispatches,
    match_returns,
    next_event_days,
)
from wearstats.analysis.histories.measure import measure, never_ran, unfitted_histories
from wearstats.analysis.histories.records_end import OutcomesEnd
from wearstats.analysis.histories.remarks import HistoryRemark
from wearstats.analysis.remark import Remark
from wearstats.domain.frames import columns
from wearstats.domain.tables import HELD_OTHERWISE
from wearstats.errors import AnalysisError

UNASKED_WITHIN_MONTHS = 1.0
OUTCOMES = ("failed", "other-cause", "removed", "running", "no-word", "would-not", "returned-unfitted")
_NEEDED = {
    "fittings": ("fitting", "shaft", "hub", "method", "fitted_from", "fitted_to", "known_from", "went_on"),
    "follow_ups": ("fitting", "seen_on", "state", "prompted", "cause"),
    "dispatches": ("hub", "sent_on", "shaft", "sent_as"),
    "returns": ("hub", "returned_on", "reason", "fitting"),
}
_DATES = ("fitted_from", "fitted_to", "known_from", "seen_on", "sent_on", "returned_on", "failed_on")
_ENOUGH_DATED = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Histories:
    """One row a fitting, and one a dispatch that no fitting is recorded of.

    Parameters
    ----------
    frame : DataFrame
        ``kind`` (fitting, dispatch), ``fitting`` (of a dispatch: ``H1 sent 2024-01-31``), ``shaft``, ``hub``, all
        further columns of the fittings frame (pattern, duty, region, ...), ``sent_on``, ``method_sent`` (that done
        where what was advised is not recorded), ``method_sent_known``, ``method_done`` (of a dispatch: as sent),
        ``period`` (calendar half-year of the dispatch, or of the fitting), ``origin_from``, ``origin_to``,
        ``origin_on`` (dates), ``age_months`` (to the day asked about), ``entry_months``, ``last_tight_months``,
        ``failed_after_months`` and ``first_bad_months`` (the failure lies between; NaN and infinite if none),
        ``reported_months`` (when it was heard of), ``day_told`` (whether its day was told),
        ``observed_months`` (known free of failure so far, or the middle of the two), ``silent_since_months``,
        ``silent_until_months`` (NaN where the end is known; until the records of outcomes end), ``cut_since_months``
        and ``cut_until_months`` (NaN but where news came after that end: last tight by then, and the end),
        ``recorded_months`` (that end), ``asked_in_vain``, ``superseded`` (another hub followed on
        the shaft, or it was worked on, without word of this one), ``outcome`` (one of `OUTCOMES`), ``prompted``,
        ``cause``, ``reason``.
    left_out : DataFrame
        ``fitting``, ``pattern`` (where given), ``why`` (a `HistoryRemark`): fittings that contradict themselves or
        cannot be dated.
    as_of : datetime.date
        The day up to which things were known.
    delay : ReportDelay
        How long before an unasked report a hub is taken to have come loose.
    """

    frame: Annotated[
        pd.DataFrame,
        columns(
            text=(
                "kind fitting shaft hub pattern duty region? went_on refit_of? method_sent method_done period "
                "outcome prompted cause reason"
            ),
            number=(
                "undersize_um? age_months entry_months last_tight_months failed_after_months "
                "first_bad_months reported_months observed_months silent_since_months silent_until_months "
                "cut_since_months cut_until_months recorded_months"
            ),
            whole="asked_in_vain",
            flag="method_sent_known superseded day_told",
            any="play_um? known_from",
            carried=True,
            day="fitted_from fitted_to sent_on origin_from origin_to origin_on",
        ),
    ]
    left_out: Annotated[pd.DataFrame, columns(text="fitting pattern why")]
    as_of: datetime.date
    delay: ReportDelay

    @property
    def ran(self) -> pd.DataFrame:
        """The fittings that went on and ran, the ones that can work loose; of hubs only sent, those that did."""
        went = ~self.frame["outcome"].isin(["would-not", "returned-unfitted"])
        return self.frame[went & (self.frame["kind"].eq("fitting") | self.frame["outcome"].ne("no-word"))]

    @property
    def by_flanks(self) -> pd.DataFrame:
        """Those of them that are held by their flanks: the ones that tell how long a fit holds."""
        ran = self.ran
        return ran[~ran["method_done"].isin(HELD_OTHERWISE)]

    def left_out_counts(self) -> dict[Remark, int]:
        """How many fittings are left out, by reason."""
        return {Remark(str(why)): int(count) for why, count in self.left_out["why"].value_counts(sort=False).items()}


def build_histories(
    *,
    fittings: pd.DataFrame,
    follow_ups: pd.DataFrame,
    dispatches: pd.DataFrame,
    returns: pd.DataFrame,
    shaft_events: pd.DataFrame | None = None,
    as_of: datetime.date,
    ends: OutcomesEnd | None = None,
    unasked_within_months: float = UNASKED_WITHIN_MONTHS,
) -> Histories:
    """Put the histories together.

    Parameters
    ----------
    fittings : DataFrame
        ``fitting``, ``shaft``, ``hub``, ``method``, ``fitted_from`` and ``fitted_to`` (dates; equal when known to the
        day, missing when not known), ``known_from``, ``went_on``; further columns are carried along.
    follow_ups : DataFrame
        ``fitting``, ``seen_on``, ``state``, ``prompted``, ``cause``; where it was asked ``failed_on``.
    dispatches : DataFrame
        ``hub``, ``sent_on``, ``shaft``, ``sent_as``; further columns are carried along for hubs never fitted.
    returns : DataFrame
        ``hub``, ``returned_on``, ``reason``, ``fitting``; where it was asked ``failed_on``.
    shaft_events : DataFrame, optional
        ``shaft``, ``happened_on``: what was done to shafts, none of it with a hub on.
    as_of : datetime.date
        The day asked about; nothing later may stand in the frames.
    ends : OutcomesEnd, optional
        Where the records of outcomes end; without it, on the day asked about.
    unasked_within_months : float
        How long before an unasked report the failure may have come, where few told the day.

    Returns
    -------
    Histories

    Raises
    ------
    AnalysisError
        When a frame lacks a column.
    """
    given = {"fittings": fittings, "follow_ups": follow_ups, "dispatches": dispatches, "returns": returns}
    told = {name: _texts(frame, name) for name, frame in given.items()}
    if shaft_events is not None:
        told["shaft_events"] = shaft_events.astype({"shaft": "str"})
    coded, names = encode_names(told)
    sent = dispatch_days(coded["dispatches"], as_of)
    rows = fitting_days(coded["fittings"], as_of)
    answers = _days_told(coded["follow_ups"], "seen_on", as_of)
    back = _days_told(coded["returns"], "returned_on", as_of)
    rows = match_dispatches(rows, sent, answers, back)
    unfitted = sent[~sent["row"].isin(rows["dispatch_row"].dropna())]
    back = match_returns(back, rows, unfitted)
    unfitted, back, rows = add_unrecorded(unfitted, back, rows, names)
    events = pd.concat([events_of_follow_ups(answers), events_of_returns(back[back["fitting"].notna()])])
    # answers and returns are laid in one row of events first: only in their order by date does it show whether a hub
    # came back because it had failed, or was seen tight after it had
    rows = rows.join(summarise_events(events), on="fitting")
    rows["asked_in_vain"] = rows["asked_in_vain"].fillna(0).astype("int64")
    rows["contradicts"] = rows["contradicts"].eq(True)
    rows = _date_origins(rows)
    rows = _follow_shafts(rows, days_of_events(coded["shaft_events"], as_of) if "shaft_events" in coded else None)
    rows = _end_records(rows, events, OutcomesEnd(day=as_of) if ends is None else ends, as_of)
    why = _reasons_to_leave_out(rows)
    kept, delay = measure(rows[why.eq("")].copy(), unasked_within_months)
    unfitted = unfitted.assign(fitting=names.of_dispatches("fitting", unfitted["row"]))
    frame = _finish(kept, unfitted_histories(unfitted, back), fittings.columns, as_of)
    frame = frame.assign(**{column: names.decode(column, frame[column]) for column in ("fitting", "shaft", "hub")})
    left_out = rows[["fitting", *(["pattern"] if "pattern" in rows else [])]].assign(why=why)
    left_out = left_out[why.ne("")].reset_index(drop=True)
    left_out = left_out.assign(fitting=names.decode("fitting", left_out["fitting"]))
    return Histories(frame=frame, left_out=left_out, as_of=as_of, delay=delay)


def _days_told(told: pd.DataFrame, heard: str, as_of: datetime.date) -> pd.DataFrame:
    """Add the days of news, and those on which a hub is said to have come loose."""
    days = told.assign(day=days_before(told[heard], as_of))
    return days.assign(failed_day=days_before(told["failed_on"], as_of)) if "failed_on" in told else days


def _texts(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """Check that a frame bears its columns, and give those that hold words one type, even where all are missing."""
    needed = _NEEDED[name]
    missing = [column for column in needed if column not in frame.columns]
    if missing:
        raise AnalysisError(f"the frame of {name} lacks {', '.join(missing)}", needed=f"columns {', '.join(needed)}")
    return frame.astype({column: "str" for column in needed if column not in _DATES})


def _date_origins(rows: pd.DataFrame) -> pd.DataFrame:
    """Bound the day of fitting by what was written, the dispatch and the first news, and choose a day between."""
    low = later(rows["fitted_from_day"], rows["earliest_day"])
    # a month may reach beyond the day asked about
    high = earlier(rows["fitted_to_day"].fillna(0.0).clip(upper=0.0), rows["first_news"])
    # known only from a later day: it was fitted by then; a day before the fitting says that it was known all along
    high = earlier(high, rows["known_from_day"].where(~(rows["known_from_day"] < low)))
    middle = (low + high) / 2
    undated = rows["fitted_from_day"].isna()
    exact = ~undated & rows["fitted_from_day"].eq(rows["fitted_to_day"])
    delays = (rows["fitted_from_day"] - rows["earliest_day"])[exact].dropna()
    if len(delays) >= _ENOUGH_DATED:
        # a hub is fitted soon after it comes, however late its first news: the middle would make a late failure early
        usual = earlier(low + float(delays.median()), high)
        middle = middle.where(~undated | low.isna(), usual)
    return rows.assign(origin_from_day=low, origin_to_day=high, origin_day=middle)


def _follow_shafts(rows: pd.DataFrame, events: pd.DataFrame | None) -> pd.DataFrame:
    """Find the next hub on the same shaft, the next shaft of the same hub, and what was done to the shaft meanwhile."""
    # one without a fitting on record may have run elsewhere, and contradicts nobody
    on_record = rows["origin_day"].notna() & ~rows["unrecorded"]
    ran = rows[on_record & rows["went_on"].ne("would-not") & ~never_ran(rows)]
    following = np.full(len(rows), np.nan)
    overlaps = np.zeros(len(rows), dtype=bool)
    for key in ("shaft", "hub"):
        ordered = ran.sort_values([key, "origin_day", "fitting"], kind="stable")
        same = ordered[key].eq(ordered[key].shift(-1)).to_numpy()
        at = ordered.index.to_numpy()
        following[at] = np.fmin(following[at], np.where(same, ordered["origin_day"].shift(-1), np.nan))
        overlaps[clashing(ran, key)] = True
    if events is not None:
        following = np.fmin(following, next_event_days(rows, events))
    return rows.assign(next_day=following, overlaps=overlaps)


def _end_records(rows: pd.DataFrame, events: pd.DataFrame, ends: OutcomesEnd, as_of: datetime.date) -> pd.DataFrame:
    """Give the day on which each fitting's records end, and when it was last tight by then."""
    day = pd.Series(float(min((ends.day - as_of).days, 0)), index=rows.index)
    for region, end in ends.by_region.items():
        day = day.mask(rows["region"].eq(region), float(min((end - as_of).days, 0)))
    by_then = events["day"] <= events["fitting"].map(pd.Series(day.to_numpy(), index=rows["fitting"]))
    tight = events[by_then & events["kind"].eq(TIGHT)].groupby("fitting")["day"].max()
    news = events[events["kind"].ne(SILENT)].groupby("fitting")["day"].max()
    return rows.assign(
        recorded_day=day, tight_by_then=rows["fitting"].map(tight), news_late=rows["fitting"].map(news) > day
    )


def _reasons_to_leave_out(rows: pd.DataFrame) -> pd.Series[str]:
    """Give the code of why each fitting is left out, the first that holds; empty where it is kept."""
    ended = rows["bad"].fillna(rows["end"])
    seen_running = rows["last_tight"].notna() | rows["bad"].notna()
    reasons: dict[HistoryRemark, pd.Series[bool]] = {
        HistoryRemark.BEFORE_SENT: rows["fitted_before_sent"],
        HistoryRemark.UNDATED: rows["origin_day"].isna(),
        HistoryRemark.NEWS_BEFORE: rows["origin_to_day"] < rows["origin_from_day"],
        HistoryRemark.TIGHT_AFTER: rows["contradicts"],
        HistoryRemark.WOULD_NOT_YET_RAN: rows["went_on"].eq("would-not") & seen_running,
        HistoryRemark.OVERLAPS: rows["overlaps"],
        HistoryRemark.KNOWN_LATE: ended <= rows["known_from_day"],
    }
    why = np.select([reason.to_numpy() for reason in reasons.values()], [str(code) for code in reasons], default="")
    return pd.Series(why, index=rows.index, dtype="str")


def _finish(
    fitted: pd.DataFrame, unfitted: pd.DataFrame, carried: Sequence[str] | pd.Index, as_of: datetime.date
) -> pd.DataFrame:
    """Put both kinds into one frame, with dates for days."""
    both = pd.concat([fitted, unfitted], ignore_index=True)
    for name in ("sent", "origin_from", "origin_to", "origin"):
        label = f"{name}_on" if name in ("sent", "origin") else name
        both[label] = pd.Timestamp(as_of) + pd.to_timedelta(np.floor(both[f"{name}_day"]), unit="D")
    decided = both["sent_on"].fillna(both["origin_on"])
    half = np.where(decided.dt.month <= 6, "H1", "H2")
    both["period"] = decided.dt.year.astype("Int64").astype("str") + half
    made = [
        "sent_on", "method_sent", "method_sent_known", "method_done", "period", "origin_from", "origin_to", "origin_on",
        "age_months", "entry_months", "last_tight_months", "failed_after_months", "first_bad_months", "reported_months",
        "day_told", "observed_months",
        "silent_since_months", "silent_until_months", "cut_since_months", "cut_until_months", "recorded_months",
        "asked_in_vain", "superseded", "outcome", "prompted", "cause",
        "reason",
    ]  # fmt: skip
    columns = ["kind", *[name for name in carried if name not in made and name != "method"], *made]
    return both.reindex(columns=columns)
