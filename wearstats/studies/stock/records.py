"""What was needed of a pattern, quarter by quarter, and what lies on the shelf, as known by a day."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.stock.demand import DemandRecord
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.coverage import ends_early, record_end
from wearstats.studies.snapshot import Snapshot

LOST = ("no-size", "special")
"""Fates of a need that no size on the shelf served."""

_YEAR_DAYS = 365.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Needs:
    """Hubs needed.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    until : datetime.date
        The day up to which the records reach.
    rows : DataFrame
        ``needed_on`` (Timestamp), ``undersize_um`` (NaN where none was sent), ``fate``, ``hubs``.
    """

    as_of: datetime.date
    until: datetime.date
    rows: Annotated[pd.DataFrame, columns(text="fate", number="undersize_um", whole="hubs", day="needed_on")]

    @property
    def hubs(self) -> int:
        """All hubs needed."""
        return int(self.rows["hubs"].sum())

    @property
    def first_on(self) -> datetime.date:
        """Day of the first of them."""
        return pd.Timestamp(self.rows["needed_on"].min()).date()

    @property
    def lost(self) -> int:
        """Those of them that no size on the shelf served."""
        return int(self.rows.loc[self.rows["fate"].isin(LOST), "hubs"].sum())

    @property
    def open(self) -> int:
        """Those of them whose order is still open."""
        return int(self.rows.loc[self.rows["fate"] == "open", "hubs"].sum())

    def by_quarter(self) -> pd.DataFrame:
        """Give every quarter from the first need to the day up to which the records reach.

        Returns
        -------
        DataFrame
            ``quarter`` (as 2026Q3), ``needed``, ``lost``, ``exposure`` (part of it on record), ``of_year`` (part of the
            year in the middle of that).
        """
        periods = self.rows["needed_on"].dt.to_period("Q")
        started, end = self._span()
        quarters = pd.period_range(self.rows["needed_on"].min(), pd.Timestamp(self.until), freq="Q")
        begins, ends = quarters.start_time, (quarters + 1).start_time
        seen_from, seen_to = begins.where(begins > started, started), ends.where(ends < end, end)
        lost = self.rows["hubs"].where(self.rows["fate"].isin(LOST), 0)
        middle = seen_from + (seen_to - seen_from) / 2
        sums = pd.DataFrame({"needed": self.rows["hubs"], "lost": lost}).groupby(periods).sum().reindex(quarters)
        return pd.DataFrame(
            {
                "quarter": [str(quarter) for quarter in quarters],
                "needed": sums["needed"].fillna(0).to_numpy(dtype=np.int64),
                "lost": sums["lost"].fillna(0).to_numpy(dtype=np.int64),
                "exposure": np.asarray((seen_to - seen_from) / (ends - begins), dtype=float),
                "of_year": (middle.day_of_year.to_numpy(dtype=float) - 0.5) / 365.25,
            }
        )

    def _span(self) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Give when the record begins and ends.

        It begins one mean step from need to need before the first, but not before that one's quarter: to begin it at
        the first need itself would make every young shop look busy.
        """
        first, last = self.rows["needed_on"].min(), self.rows["needed_on"].max()
        quarter = first.to_period("Q").start_time
        started = max(first - (last - first) / (self.hubs - 1), quarter) if last > first else quarter
        return started, pd.Timestamp(self.until) + pd.Timedelta(days=1)

    def recorded_years(self) -> float:
        """Give how long the record is; AnalysisError where nothing was needed."""
        self.record()
        started, end = self._span()
        return float((end - started) / pd.Timedelta(days=_YEAR_DAYS))

    def record(self) -> DemandRecord:
        """Give the record that demand is learnt from; AnalysisError where nothing was ever needed."""
        if self.rows.empty:
            raise AnalysisError(
                "no order is on record that took a hub or was lost for want of one",
                needed="add orders.csv (order, ordered_on, pattern, outcome) or dispatches.csv with what was sent",
            )
        quarters = self.by_quarter()
        return DemandRecord(
            counts=quarters["needed"].to_numpy(dtype=float),
            exposure=quarters["exposure"].to_numpy(dtype=float),
            of_year=quarters["of_year"].to_numpy(dtype=float),
        )

    def between(self, begin: datetime.date, end: datetime.date) -> Needs:
        """Keep what was needed after the first day, up to and including the second."""
        days = self.rows["needed_on"]
        inside = (days > pd.Timestamp(begin)) & (days <= pd.Timestamp(end))
        return replace(self, rows=self.rows[inside])

    def by_size(self, undersizes_um: FloatArray) -> FloatArray:
        """Hubs sent, by the size nearest to the one sent, shape (sizes,); without those that no size served."""
        sent = self.rows[(self.rows["fate"] == "sent") & self.rows["undersize_um"].notna()]
        place = nearest_size(sent["undersize_um"].to_numpy(dtype=float), undersizes_um)
        hubs = sent["hubs"].to_numpy(dtype=float)
        return np.asarray(np.bincount(place, weights=hubs, minlength=len(undersizes_um)), dtype=float)


def nearest_size(undersize_um: FloatArray, undersizes_um: FloatArray) -> IntArray:
    """Index of the nearest of the sizes, shape as the first."""
    away = np.abs(np.asarray(undersize_um)[..., None] - undersizes_um)
    return np.asarray(away.argmin(axis=-1), dtype=np.int64)


def read_needs(snapshot: Snapshot, pattern: str) -> Needs:
    """Read what was needed of a pattern."""
    rows, as_of, end = snapshot.query("stock/needs", pattern=pattern), snapshot.known_on, record_end(snapshot)
    until = end if end is not None and ends_early(end, as_of=as_of) else as_of
    return Needs(as_of=as_of, until=until, rows=rows.assign(needed_on=pd.to_datetime(rows["needed_on"])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How hubs of a pattern are made.

    Parameters
    ----------
    lead_days : int
        From the decision until they are on the shelf.
    batch_size : int
        Most on one setting-up.
    """

    lead_days: int
    batch_size: int


def read_making(snapshot: Snapshot, pattern: str) -> Making:
    """Read lead time and batch size; AnalysisError naming what the patterns table lacks of them."""
    rows = snapshot.query("store/patterns")
    mine = rows[rows["pattern"] == pattern]
    if mine.empty:
        raise AnalysisError(
            f"pattern {pattern!r} is not known on {snapshot.known_on}",
            needed=f"known are {', '.join(rows['pattern']) or 'none'}",
        )
    lacking = [name for name in ("lead_days", "batch_size") if mine[name].isna().all()]
    if lacking:
        raise AnalysisError(
            f"pattern {pattern!r}: no {' and no '.join(lacking)} is written down",
            needed=f"add {' and '.join(lacking)} to its row in patterns.csv",
        )
    return Making(lead_days=int(mine["lead_days"].iloc[0]), batch_size=int(mine["batch_size"].iloc[0]))
