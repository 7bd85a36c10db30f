"""What is to be made, size by size, as it goes into the table."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.demand import interval_of
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.studies.stock.reasons import why_make
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.shelf import QUARTER_DAYS, LaidOut

LEVEL = 0.9
RUNS_OUT_CHANCE = 0.1
"""Stock covers until the day by which it has run out with this chance."""

_METHOD = remark(StockStudyRemark.COURSES_DIVIDED)
COVER_QUARTERS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeRow:
    """One size.

    Parameters
    ----------
    undersize_um : float
        Its undersize.
    kept : bool
        Whether it is still kept, and may be made.
    on_hand : int
        Hubs on the shelf.
    counted_on : datetime.date or None
        Day of the count that this rests on; None where it was never counted.
    sent_last_year : int
        Hubs of it sent in the year up to the day and not put back, those of sizes nearest to it included.
    share : float
        Share of the need that it serves.
    lead_demand, cover_demand : Estimate
        Hubs of it needed until what is made now is on the shelf; and until what is made at the next chance would be;
        interval at 90 %.
    make : int
        How many to make now.
    cost : float
        Set-up and making.
    short_chance : float
        Chance that a need for it is served by none until the next chance, tighter hubs filed out included.
    own_until : datetime.date
        Day by which its own hubs have run out with a chance of one in ten, with what is made now.
    covers_until : datetime.date
        Day by which a need of it goes unserved with that chance, tighter hubs filed out where its own have run out, and
        its own for looser needs.
    outlasts : bool
        Whether it lasts longer still than that day, the last one looked at.
    why : Remark
        Why so many.
    """

    undersize_um: float
    kept: bool
    on_hand: int
    counted_on: datetime.date | None
    sent_last_year: int
    share: float
    lead_demand: Estimate
    cover_demand: Estimate
    make: int
    cost: float
    short_chance: float
    own_until: datetime.date
    covers_until: datetime.date
    outlasts: bool
    why: Remark

    @property
    def from_tighter(self) -> bool:
        """Whether tighter hubs alone serve its needs: it is kept, but none lies there or is made now."""
        return self.kept and self.share > 0 and self.on_hand + self.make == 0 and self.covers_until > self.own_until


def list_rows(
    laid: LaidOut,
    demand: IntArray,
    make: IntArray,
    lacking: FloatArray,
    own: FloatArray,
    filed_out: FloatArray,
    year: FloatArray,
    as_of: datetime.date,
) -> tuple[MakeRow, ...]:
    """List the sizes.

    Parameters
    ----------
    laid : LaidOut
    demand : ndarray of int, shape (draws, spans, sizes)
        Until what is made now is there; from then until the next chance; from then until what is made at that is there;
        what comes after is not looked at.
    make : ndarray of int, shape (sizes,)
        How many to make.
    lacking : ndarray, shape (draws, sizes)
        Needs not served until the next chance.
    own, filed_out : ndarray, shape (sizes,)
        In how many quarters the hubs of each run out, and a need of each goes unserved with tighter hubs filed out;
        infinite beyond those looked at.
    year : ndarray, shape (sizes,)
        Sent in the year up to the day.
    as_of : datetime.date
    """
    shelf = laid.shelf
    share = laid.shares.mean(axis=0)
    rows = []
    for k, undersize in enumerate(laid.undersizes_um):
        lead = interval_of(demand[:, 0, k], level=LEVEL, method=_METHOD)
        cover = interval_of(demand[:, :3, k].sum(axis=1), level=LEVEL, method=_METHOD)
        outlasts = not np.isfinite(filed_out[k])
        own_until, until = (_day_after(as_of, float(quarters[k])) for quarters in (own, filed_out))
        short = float((lacking[:, k] > 0).mean())
        rows.append(
            MakeRow(
                undersize_um=float(undersize),
                kept=bool(shelf.may_make[k]),
                on_hand=int(shelf.on_hand[k]),
                counted_on=laid.counted_on[k],
                sent_last_year=int(year[k]),
                share=float(share[k]),
                lead_demand=lead,
                cover_demand=cover,
                make=int(make[k]),
                cost=float(shelf.costs.making(np.asarray(float(make[k])))),
                short_chance=short,
                own_until=own_until,
                covers_until=until,
                outlasts=outlasts,
                why=why_make(
                    kept=bool(shelf.may_make[k]),
                    on_hand=int(shelf.on_hand[k]),
                    make=int(make[k]),
                    lead=lead,
                    cover=cover,
                    lead_short=float((demand[:, 0, k] > shelf.on_hand[k]).mean()),
                    short=short,
                    own_until=own_until,
                    until=until,
                    outlasts=outlasts,
                ),
            )
        )
    return tuple(rows)


def _day_after(day: datetime.date, quarters: float) -> datetime.date:
    """Give the day so many quarters later, the last one looked at where it is later still."""
    return day + datetime.timedelta(days=int(min(quarters, COVER_QUARTERS) * QUARTER_DAYS))
