"""Where the records of outcomes end: a day without an entry is no evidence that nothing failed.

A stream of outcomes that stops does so some time after its last entry. If its pauses have lengths G, a day taken at
random lies on average ``E[G^2] / (2 E[G])`` after the last entry before it (the mean age of a renewal process [1]_). So
far do records reach beyond their last outcome. Ending them at that outcome itself would count too little time, and most
of all in a small store, where the last outcome is often a failure; going further would take silence for good news.

References
----------
.. [1] D. R. Cox, Renewal Theory, Methuen 1962, section 5.2: backward recurrence time.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

PAUSES_OF_DAYS = 730
"""Pauses are those of the last two years of a stream, since a growing fleet is heard of ever more often."""

FEWEST_PAUSES = 5
"""With fewer in that time all of them count, and the wait for the first outcome as one."""

LATE_PAUSES = 4.0
"""A stream that has been silent for so many of its pauses has ended: one at random in fifty is by chance (exp(-4))."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomesEnd:
    """How far the records of outcomes reach.

    Parameters
    ----------
    day : datetime.date
        Up to which what failed is taken to be on record, where nothing else is said of a region.
    last : datetime.date or None
        The last day on which an outcome is on record.
    stated : bool
        Whether whoever added the records said how far they are complete.
    surely : bool
        Whether they end there beyond doubt: stated, or silent for longer than chance explains.
    by_region : mapping of str to datetime.date
        Regions whose records end earlier.
    """

    day: datetime.date
    last: datetime.date | None = None
    stated: bool = False
    surely: bool = False
    by_region: Mapping[str, datetime.date] = field(default_factory=dict)


def usual_pause_days(days: NDArray[np.datetime64], begin: np.datetime64 | None = None) -> float:
    """Give how long after its last outcome a stream has ended, on average.

    Parameters
    ----------
    days : ndarray of datetime64[D]
        Days on which an outcome is on record.
    begin : datetime64, optional
        The first fitting, from which the wait for the first outcome counts where pauses are few.

    Returns
    -------
    float
        Days; 0 where there is no pause to learn from.
    """
    found = np.unique(days.astype("datetime64[D]").astype(np.int64))
    if not found.size:
        return 0.0
    recent = np.diff(found[found >= found[-1] - PAUSES_OF_DAYS]).astype(float)
    if recent.size < FEWEST_PAUSES:
        since = found[0] if begin is None else min(begin.astype("datetime64[D]").astype(np.int64), found[0])
        recent = np.diff(np.unique(np.append(since, found))).astype(float)
    return float((recent**2).sum() / (2.0 * recent.sum())) if recent.size else 0.0


def stream_end(days: NDArray[np.datetime64], begin: np.datetime64 | None, latest: np.datetime64) -> np.datetime64:
    """Give the last outcome's day and the usual pause, but no later than a day, nor earlier than the last outcome."""
    last = days.max().astype("datetime64[D]")
    reach = last + np.timedelta64(round(usual_pause_days(days, begin)), "D")
    return max(last, min(reach, latest.astype("datetime64[D]")))


def has_surely_ended(days: NDArray[np.datetime64], begin: np.datetime64 | None, now: np.datetime64) -> bool:
    """Say whether a stream has been silent for longer than chance explains; of a few outcomes nobody can tell."""
    silent = float((now - days.max()).astype("timedelta64[D]").astype(int))
    enough = np.unique(days).size > FEWEST_PAUSES
    return bool(enough and silent > LATE_PAUSES * max(usual_pause_days(days, begin), 1.0))


def early_regions(
    regions: NDArray[np.object_], days: NDArray[np.datetime64], begin: np.datetime64 | None, end: np.datetime64
) -> dict[str, np.datetime64]:
    """Find the regions whose outcomes stop well before those of all together.

    Parameters
    ----------
    regions : ndarray of str or None
        Region of each outcome day.
    days : ndarray of datetime64[D]
        The days.
    begin : datetime64, optional
        The first fitting.
    end : datetime64
        Where the records of all end.

    Returns
    -------
    dict of str to datetime64
        Region to the day on which its records end.
    """
    found = {}
    for name in sorted({str(region) for region in regions if region is not None and region == region}):
        theirs = days[regions == name]
        if has_surely_ended(theirs, begin, end):
            found[name] = stream_end(theirs, begin, end)
    return found
