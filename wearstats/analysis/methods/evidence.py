"""Whether one way of sending hubs fails more, told at the end of every quarter, valid however often one looks.

A fitting enters on the day its horizon is reached, with what is on record of it that day: known to have worked loose on
the flanks by then, or not. So nothing is left out by what became of it, and how many enter is known beforehand, as the
method asks. The price is what is compared: not the risk but the share *known* to have worked loose, from which failures
that nobody reported are missing, in both groups alike if owners of both answer alike. Inside a quarter, fittings are
compared with those sent in the same half-year only; they are not made alike in wear.

Only the first hub of each shaft enters. Hubs of one shaft fail together, and a second one is there because of what
became of the first; the method holds at every look for fittings that tell nothing of each other, as those of different
shafts do. Where pairs fail together and all entered, one history in ten without a difference was called settled
(`tests/simulation/evidence.md`).
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.methods.tables import AS_SUPPLIED
from wearstats.analysis.monitoring.confidence_sequences import (
    ALTERNATIVES,
    DifferenceSequence,
    difference_sequence,
    proportion_sequence,
)
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.units import MEAN_MONTH_DAYS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodEvidence:
    """The evidence as it stood at the end of each quarter.

    Parameters
    ----------
    quarters : DataFrame
        ``quarter`` (2026Q3), ``known_on`` (its last day), ``supplied``, ``supplied_failed``, ``hand``, ``hand_failed``
        (entered so far), ``difference`` (of the shares so far, NaN without both), ``low``, ``high`` (not ruled out by
        then), ``log_evidence`` (against no difference), ``supplied_low``, ``supplied_high``, ``hand_low``,
        ``hand_high`` (each share known loose, by itself, also right at every look); from the first quarter in which a
        fitting entered.
    low, high : float or None
        Of the last quarter; None before any fitting entered.
    settled : bool
        Whether no difference has been ruled out.
    since : datetime.date or None
        Last day of the quarter in which it first was.
    contradicts : bool
        Whether the difference cannot have been the same all along.
    by_alternative : ndarray, shape (alternatives,)
        Where the e-process against no difference stands, for going on from there.
    level : float
        Over all looks together.
    """

    quarters: Annotated[
        pd.DataFrame,
        columns(
            text="quarter",
            number="low high log_evidence supplied_low? supplied_high? hand_low? hand_high? difference",
            whole="supplied supplied_failed hand hand_failed",
            day="known_on",
        ),
    ]
    low: float | None
    high: float | None
    settled: bool
    since: datetime.date | None
    contradicts: bool
    by_alternative: FloatArray
    level: float


def enter_at_horizon(ran: pd.DataFrame, *, by: str, horizon_months: float) -> pd.DataFrame:
    """Say when each fitting enters and with what.

    Parameters
    ----------
    ran : DataFrame
        Fittings as `wearstats.analysis.histories.build.Histories.ran` gives them.
    by : str
        Column of the method.
    horizon_months : float

    Returns
    -------
    DataFrame
        ``entered_on``, ``stratum`` (half-year of sending), ``supplied``, ``failed``, a row a shaft: of its first hub.
        Those known only from a later date are left out, for they are on record because they lasted.
    """
    told = ran[ran["entry_months"].le(0)].sort_values("origin_on", kind="stable").drop_duplicates("shaft")
    days = pd.to_timedelta(np.ceil(horizon_months * MEAN_MONTH_DAYS), unit="D")
    return pd.DataFrame(
        {
            "entered_on": pd.to_datetime(told["origin_on"]).dt.normalize() + days,
            "stratum": told["period"].astype("str"),
            "supplied": told[by].eq(AS_SUPPLIED),
            "failed": told["outcome"].eq("failed") & told["first_bad_months"].le(horizon_months),
        }
    )


def follow_evidence(entered: pd.DataFrame, *, as_of: datetime.date, level: float = 0.95) -> MethodEvidence:
    """Look at the end of every quarter up to a day.

    Parameters
    ----------
    entered : DataFrame
        As `enter_at_horizon` gives it.
    as_of : datetime.date
        Quarters that end by this day count.
    level : float
        Coverage over all looks together.

    Returns
    -------
    MethodEvidence
    """
    last = pd.Timestamp(as_of)
    dated = entered.assign(quarter=entered["entered_on"].dt.to_period("Q"))
    seen = dated[dated["quarter"].dt.end_time.dt.normalize() <= last]
    if seen.empty:
        return MethodEvidence(
            quarters=pd.DataFrame(),
            low=None,
            high=None,
            settled=False,
            since=None,
            contradicts=False,
            by_alternative=np.zeros(len(ALTERNATIVES)),
            level=level,
        )
    cells = seen.assign(
        supplied_failed=seen["supplied"] & seen["failed"],
        hand=~seen["supplied"],
        hand_failed=~seen["supplied"] & seen["failed"],
    )
    names = ["supplied", "supplied_failed", "hand", "hand_failed"]
    # a block each half-year of sending: over all together, a drift of risk and of custom would look like a difference
    blocks = cells.groupby(["quarter", "stratum"], sort=True)[names].sum().reset_index()
    counts = {name: blocks[name].to_numpy(dtype=np.int64) for name in names}
    told = difference_sequence(
        counts["supplied_failed"], counts["supplied"], counts["hand_failed"], counts["hand"], level=level
    )
    quarters = _by_quarter(blocks, told, names, last)
    out = quarters[(quarters["low"] > 0) | (quarters["high"] < 0)]
    return MethodEvidence(
        quarters=quarters,
        low=float(quarters["low"].iloc[-1]),
        high=float(quarters["high"].iloc[-1]),
        settled=not out.empty,
        since=None if out.empty else out["known_on"].iloc[0].date(),
        contradicts=told.contradicts,
        by_alternative=told.by_alternative,
        level=level,
    )


def _by_quarter(blocks: pd.DataFrame, told: DifferenceSequence, names: list[str], last: pd.Timestamp) -> pd.DataFrame:
    """Read the sequence off at the end of each quarter, those in which nothing entered among them."""
    frame = blocks.assign(low=told.low, high=told.high, log_evidence=told.log_evidence)
    frame[names] = frame[names].cumsum()
    frame = frame.groupby("quarter").last().drop(columns="stratum")
    ended = last.to_period("Q") if last == last.to_period("Q").end_time.normalize() else last.to_period("Q") - 1
    frame = frame.reindex(pd.period_range(frame.index.min(), ended, freq="Q")).ffill()
    frame[names] = frame[names].astype(np.int64)
    both = (frame["supplied"] > 0) & (frame["hand"] > 0)
    shares = [frame[f"{group}_failed"] / frame[group].clip(lower=1) for group in ("supplied", "hand")]
    for group in ("supplied", "hand"):
        ends = [
            proportion_sequence(int(failed), int(total), level=told.level)
            for failed, total in zip(frame[f"{group}_failed"], frame[group], strict=True)
        ]
        frame[[f"{group}_low", f"{group}_high"]] = np.array(ends)
    quarters = pd.PeriodIndex(frame.index)
    return frame.assign(
        quarter=quarters.astype(str),
        known_on=quarters.to_timestamp(how="end").normalize(),
        difference=(shares[0] - shares[1]).where(both),
    ).reset_index(drop=True)
