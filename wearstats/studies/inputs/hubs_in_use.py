"""The hubs that went into use, with the days between which each ran, as the quarterly review counts them.

A hub is in use from the day it was fitted until it is known to have worked loose, came off for whatever cause, or gave
way to another on the same shaft; with no word of that until the day asked about. Owners who stay silent are taken to
run their hubs still: few failures stay unreported for long, and leaving silent hubs out would count only those of which
news came, bad news most of all.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.histories.build import Histories
from wearstats.domain.frames import columns
from wearstats.domain.quarters import Quarter
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.snapshot import Snapshot

_KEPT = ["fitting", "shaft", "hub", "pattern", "region", "duty", "undersize_um", "method_sent", "method_done", "cause"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HubsInUse:
    """Hubs that ran.

    Parameters
    ----------
    frame : DataFrame
        One row a fitting that ran: ``fitting``, ``shaft``, ``hub``, ``pattern``, ``region``, ``duty``,
        ``undersize_um``, ``method_sent``, ``method_done``, ``cause``, ``batch``, ``withdrawn`` (whether that is),
        ``told`` (whether its owner was warned), ``from_on``, ``to_on`` (NaT while in use), ``last_word_on``,
        ``outcome``, ``failed`` (worked loose on the flanks), ``recorded_on`` (the last day of which it would be on
        record had it failed).
    as_of : datetime.date
        The day up to which things were known.
    """

    frame: Annotated[
        pd.DataFrame,
        columns(
            text="fitting shaft hub pattern region duty method_sent method_done cause batch outcome",
            number="undersize_um",
            flag="withdrawn told failed",
            day="from_on to_on last_word_on recorded_on?",
        ),
    ]
    as_of: datetime.date

    def months_within(self, first: datetime.date, last: datetime.date) -> pd.Series[float]:
        """Months in use between two days, both counted, as far as outcomes are on record; one value a fitting."""
        end = min(pd.Timestamp(last), pd.Timestamp(self.as_of)) + pd.Timedelta(days=1)
        stop = self.frame["to_on"].fillna(end)
        stop = stop.where(stop < end, end)
        if "recorded_on" in self.frame:
            recorded = self.frame["recorded_on"] + pd.Timedelta(days=1)
            stop = stop.where(~(stop > recorded), recorded)
        start = self.frame["from_on"].where(self.frame["from_on"] > pd.Timestamp(first), pd.Timestamp(first))
        return (stop - start).dt.total_seconds().clip(lower=0.0) / 86400 / MEAN_MONTH_DAYS

    def failed_within(self, first: datetime.date, last: datetime.date) -> pd.Series[bool]:
        """Whether it became known between two days, both counted, that the hub had worked loose."""
        return self.frame["failed"] & days_within(self.frame["to_on"], first, last)

    def up_to_last_word(self) -> HubsInUse:
        """Give the same hubs as though each had come off on the day it was last heard of."""
        return HubsInUse(
            frame=self.frame.assign(to_on=self.frame["to_on"].fillna(self.frame["last_word_on"])), as_of=self.as_of
        )

    @property
    def running(self) -> pd.Series[bool]:
        """Which are in use on the day asked about, as far as anybody knows."""
        return self.frame["to_on"].isna()

    def quarters(self) -> list[Quarter]:
        """All quarters from the first fitting to the day asked about."""
        if self.frame.empty:
            return []
        first, last = Quarter.of(self.frame["from_on"].min().date()), Quarter.of(self.as_of)
        found = [first]
        while found[-1] < last:
            found.append(found[-1].shifted(1))
        return found


def read_hubs_in_use(snapshot: Snapshot, histories: Histories) -> HubsInUse:
    """Put the days to the histories, and the batch of each hub and whether its owner was warned.

    Parameters
    ----------
    histories : Histories
        Of one pattern or of all.

    Returns
    -------
    HubsInUse
    """
    found = hubs_in_use(histories)
    hubs = snapshot.query("review/hubs")
    hubs = hubs.astype({"hub": "str"}).drop_duplicates("hub").set_index("hub")
    of_hubs = ["batch", "withdrawn", "told"]
    frame = found.frame.drop(columns=of_hubs).join(hubs[of_hubs], on="hub")
    frame = frame.assign(**{name: frame[name].fillna(False).astype(bool) for name in ("withdrawn", "told")})
    return HubsInUse(frame=frame, as_of=found.as_of)


def hubs_in_use(histories: Histories) -> HubsInUse:
    """Put the days to the histories; batches and warnings are left open, as though there were none."""
    ran = histories.ran
    as_of = histories.as_of
    failed = ran["outcome"].eq("failed")
    ended = failed | ran["outcome"].isin(["other-cause", "removed"]) | ran["superseded"]
    month = ran["reported_months"].where(failed, ran["observed_months"])
    day = ran["origin_on"] + pd.to_timedelta((month.where(ended) * MEAN_MONTH_DAYS).round(), unit="D")
    heard = ran["silent_since_months"].fillna(ran["observed_months"]).where(~failed, ran["reported_months"])
    frame = ran[_KEPT].assign(
        batch=None,
        withdrawn=False,
        told=False,
        outcome=ran["outcome"],
        failed=failed,
        recorded_on=pd.Timestamp(as_of)
        + pd.to_timedelta(((ran["recorded_months"] - ran["age_months"]) * MEAN_MONTH_DAYS).round(), unit="D"),
        from_on=ran["origin_on"],
        to_on=day.where(day <= pd.Timestamp(as_of), pd.Timestamp(as_of)).where(ended),
        # counted back from today: the middle of a month, from which months run, may lie half a day behind origin_on
        last_word_on=pd.Timestamp(as_of)
        + pd.to_timedelta(((heard - ran["age_months"]) * MEAN_MONTH_DAYS).round(3) // 1, unit="D"),
    )
    return HubsInUse(frame=frame.reset_index(drop=True), as_of=as_of)


def days_within(days: pd.Series[pd.Timestamp], first: datetime.date, last: datetime.date) -> pd.Series[bool]:
    """Whether each day lies between two others, both counted; never where it is missing."""
    return (days >= pd.Timestamp(first)) & (days <= pd.Timestamp(last))


def months_in_use(frame: pd.DataFrame, as_of: datetime.date) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Months each hub has been in use, as far as outcomes are on record; shape (fittings,)."""
    until = frame["to_on"].fillna(pd.Timestamp(as_of))
    if "recorded_on" in frame:
        until = until.where(~(until > frame["recorded_on"]), frame["recorded_on"])
    return np.asarray(((until - frame["from_on"]).dt.days / MEAN_MONTH_DAYS).clip(lower=0.0), dtype=float)
