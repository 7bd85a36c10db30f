"""How far the records reach: days of which nothing is on record are not days on which nothing happened."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd

from wearstats.analysis.histories.records_end import OutcomesEnd, early_regions, has_surely_ended, stream_end
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.inputs.remarks import RecordRemark
from wearstats.studies.snapshot import Snapshot, part

QUIET_DAYS = 31
"""So many days without a single entry are still a quiet time; judgement."""


@part("known_on")
def record_end(snapshot: Snapshot) -> datetime.date | None:
    """Give the last day by which anything was known to have happened, of all patterns; None where nothing was known."""
    day = snapshot.query("store/record_end")["record_end"].iloc[0]
    return None if pd.isna(day) else pd.Timestamp(day).date()


@part("known_on")
def outcomes_end(snapshot: Snapshot) -> OutcomesEnd:
    """Give the day on which the records of outcomes end, of all patterns.

    Returns
    -------
    OutcomesEnd
        The day stated by the newest intake that brought outcomes or says how far they are complete; else the last day
        of a follow-up or return and the stream's usual pause, but no later than the intake that brought it. Where no
        outcome is on record, the day asked about. A count of stock is no outcome.
    """
    as_of = snapshot.known_on
    found = snapshot.query("store/outcome_days")
    outcomes = found[found["outcome"].astype(bool)]
    days = outcomes["day"].to_numpy(dtype="datetime64[D]")
    last = _date(days.max()) if days.size else None
    source = snapshot.query("store/outcome_intakes").iloc[0]
    if pd.notna(source["stated_by"]) and not source["brought_by"] > source["stated_by"]:
        stated = _date(source["complete_to"])
        return OutcomesEnd(day=min(stated, as_of), last=last, stated=True, surely=True)
    if last is None:
        return OutcomesEnd(day=as_of)
    first = found.loc[~found["outcome"].astype(bool), "day"].to_numpy(dtype="datetime64[D]")
    begin = first[0] if first.size else None
    latest = min(_date(source["brought_on"]), as_of)
    end = stream_end(days, begin, np.datetime64(latest))
    if pd.notna(source["stated_by"]):
        end = max(end, np.datetime64(min(_date(source["complete_to"]), as_of)))
    regions = outcomes["region"].astype(object).where(outcomes["region"].notna(), None).to_numpy(dtype=object)
    early = early_regions(regions, days, begin, end)
    return OutcomesEnd(
        day=_date(end),
        last=last,
        surely=has_surely_ended(days, begin, np.datetime64(as_of)),
        by_region={name: _date(day) for name, day in early.items()},
    )


def _date(day: np.datetime64) -> datetime.date:
    return pd.Timestamp(day).date()


def outcomes_end_early(end: OutcomesEnd, *, as_of: datetime.date) -> Remark | None:
    """Say that the records of outcomes, or a region's, end long before the day asked about; None where they do not."""
    quiet = datetime.timedelta(days=QUIET_DAYS)
    if as_of - end.day > quiet:
        code = RecordRemark.OUTCOMES_STATED_TO if end.stated else RecordRemark.OUTCOMES_END
        return remark(code, end=end.day, last=end.last, as_of=as_of, days=(as_of - end.day).days)
    late = {name: day for name, day in end.by_region.items() if as_of - day > quiet}
    if not late:
        return None
    return remark(RecordRemark.REGIONS_END, regions=", ".join(f"{name} {day}" for name, day in sorted(late.items())))


def ends_early(end: datetime.date | None, *, as_of: datetime.date) -> Remark | None:
    """Say that records end long before the day asked about; None where they do not, or there are none."""
    if end is None or (as_of - end).days <= QUIET_DAYS:
        return None
    return remark(RecordRemark.ENDS_EARLY, end=end, as_of=as_of, days=(as_of - end).days)


def records_end_early(snapshot: Snapshot) -> Remark | None:
    """Say where what is on record ends early: the outcomes, or all there is; None where nothing does."""
    as_of = snapshot.known_on
    early = outcomes_end_early(outcomes_end(snapshot), as_of=as_of)
    return early or ends_early(record_end(snapshot), as_of=as_of)
