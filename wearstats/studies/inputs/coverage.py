"""How far the records reach: days of which nothing is on record are not days on which nothing happened."""

from __future__ import annotations

import datetime

import pandas as pd

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


def ends_early(end: datetime.date | None, *, as_of: datetime.date) -> Remark | None:
    """Say that records end long before the day asked about; None where they do not, or there are none."""
    if end is None or (as_of - end).days <= QUIET_DAYS:
        return None
    return remark(RecordRemark.ENDS_EARLY, end=end, as_of=as_of, days=(as_of - end).days)
