"""How far the records reach: days of which nothing is on record are not days on which nothing happened."""

from __future__ import annotations

import datetime

import pandas as pd

from wearstats.studies.snapshot import Snapshot, part

QUIET_DAYS = 31
"""So many days without a single entry are still a quiet time; judgement."""


@part("known_on")
def record_end(snapshot: Snapshot) -> datetime.date | None:
    """Give the last day by which anything was known to have happened, of all patterns; None where nothing was known."""
    day = snapshot.query("store/record_end")["record_end"].iloc[0]
    return None if pd.isna(day) else pd.Timestamp(day).date()


def ends_early(end: datetime.date | None, *, as_of: datetime.date) -> str | None:
    """Say that records end long before the day asked about; None where they do not, or there are none."""
    if end is None or (as_of - end).days <= QUIET_DAYS:
        return None
    return (
        f"the records end on {end}: of the {(as_of - end).days} days from then to {as_of} nothing is on record, and "
        "what is said of hubs in use counts them as days on which nothing became known; add what did, or ask for what "
        f"was known then: --as-of {end}"
    )
