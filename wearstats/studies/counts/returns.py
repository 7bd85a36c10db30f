"""What came back: hubs returned by quarter and reason, beside the hubs sent."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.monitoring.standing import SURE, Standing, standing_of
from wearstats.analysis.rates.poisson_rates import predicted_count
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.quarters import Quarter, parse_quarter
from wearstats.errors import AnalysisError
from wearstats.studies.counts.quarter import BEFORE_QUARTERS
from wearstats.studies.counts.remarks import ReturnsRemark
from wearstats.studies.gaps.slack_on_trial import SlackOnTrial, slack_on_trial
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReturnsStudy:
    """Hubs that came back.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    quarters : tuple of str
        All quarters from the first to the last with a hub sent or returned: ``2026Q3``.
    reasons : tuple of str
        Reasons on record, commonest first.
    counts : ndarray of int, shape (quarters, reasons)
        Hubs returned.
    sent : ndarray of int, shape (quarters,)
        Hubs sent.
    trials : SlackOnTrial or None
        Hubs found slack on trial beside those expected; None where not asked for, or without readings.
    """

    as_of: datetime.date
    quarters: tuple[str, ...]
    reasons: tuple[str, ...]
    counts: np.ndarray[tuple[int, int], np.dtype[np.int64]]
    sent: np.ndarray[tuple[int], np.dtype[np.int64]]
    trials: SlackOnTrial | None = None

    @property
    def quarter(self) -> Quarter | None:
        """The last quarter on record; None where nothing was sent or returned."""
        return parse_quarter(self.quarters[-1]) if self.quarters else None

    @property
    def expected(self) -> Estimate | None:
        """Returns of that quarter so far, predicted from up to four before it; None where it is the first."""
        before, quarter = self.counts[-1 - BEFORE_QUARTERS : -1], self.quarter
        if quarter is None or not len(before):
            return None
        length = (quarter.last_day - quarter.first_day).days + 1
        ahead = min((self.as_of - quarter.first_day).days + 1, length) / length
        told = remark(ReturnsRemark.AT_THE_RATE_BEFORE)
        return predicted_count(int(before.sum()), float(len(before)), ahead, told=told, level=SURE)

    @property
    def verdict(self) -> Remark:
        """How the last quarter on record stands against those before it."""
        return returns_verdict(
            sent=int(self.sent.sum()),
            returned=self.returned,
            quarter=self.quarter,
            back=int(self.counts[-1].sum()) if self.quarters else 0,
            expected=self.expected,
            over=self.quarter is not None and self.quarter.last_day <= self.as_of,
        )

    @property
    def returned(self) -> int:
        """Hubs that came back in all."""
        return int(self.counts.sum())

    def to_frame(self) -> pd.DataFrame:
        """Give one row a quarter and reason, zeros included: ``quarter``, ``reason``, ``returns``, ``sent``."""
        quarters, reasons = len(self.quarters), len(self.reasons)
        return pd.DataFrame(
            {
                "quarter": np.repeat(np.array(self.quarters, dtype=object), reasons),
                "reason": np.tile(np.array(self.reasons, dtype=object), quarters),
                "returns": self.counts.reshape(-1),
                "sent": np.repeat(self.sent, reasons),
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the machine-readable form."""
        return {
            "verdict": self.verdict,
            "quarter": None if self.quarter is None else str(self.quarter),
            "expected": self.expected,
            "returns": dict(zip(self.reasons, self.counts.sum(axis=0), strict=True)),
            "slack_on_trial": self.trials,
            "by_quarter": [
                {"quarter": quarter, "sent": sent, "returns": dict(zip(self.reasons, row, strict=True))}
                for quarter, sent, row in zip(self.quarters, self.sent, self.counts, strict=True)
            ],
        }


def returns_verdict(
    *, sent: int, returned: int, quarter: Quarter | None, back: int, expected: Estimate | None, over: bool
) -> Remark:
    """Judge the returns of a quarter.

    Parameters
    ----------
    sent, returned : int
        Hubs, of all quarters.
    quarter : Quarter or None
        Which is judged.
    back : int
        Hubs that came back in it.
    expected : Estimate or None
        How many were expected, with a prediction interval whose ends belong to it.
    over : bool
        Whether it was over.
    """
    if quarter is None or sent + returned == 0:
        return remark(ReturnsRemark.NOTHING_SENT)
    if returned == 0:
        return remark(ReturnsRemark.NONE_BACK, sent=sent)
    where = standing_of(back, expected)
    if expected is None or where is Standing.UNKNOWN:
        return remark(ReturnsRemark.NOTHING_TO_COMPARE, quarter=str(quarter), back=back, over=over)
    codes = {
        Standing.INSIDE: ReturnsRemark.QUIET,
        Standing.ABOVE: ReturnsRemark.WATCH_MORE,
        Standing.BELOW: ReturnsRemark.WATCH_FEWER if over else ReturnsRemark.QUIET,
    }
    ends = {"expected": expected.value, "low": expected.low, "high": expected.high}
    return remark(codes[where], quarter=str(quarter), back=back, **ends, over=over)


def study_returns(snapshot: Snapshot, *, trials: bool = False) -> ReturnsStudy:
    """Count the hubs that came back; empty where nothing was sent or returned.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    trials : bool
        Whether those found slack on trial are compared with those expected, which asks for the widths.
    """
    returned = snapshot.query("review/returns_by_quarter")
    sent = snapshot.query("review/sent_by_quarter")
    quarters = _quarters([*returned["quarter"], *sent["quarter"]])
    totals = returned.groupby("reason")["returns"].sum().sort_values(ascending=False, kind="stable")
    table = returned.pivot_table(index="quarter", columns="reason", values="returns", aggfunc="sum", fill_value=0)
    table = table.reindex(index=quarters, columns=totals.index, fill_value=0)
    return ReturnsStudy(
        as_of=snapshot.known_on,
        quarters=tuple(quarters),
        reasons=tuple(str(reason) for reason in totals.index),
        counts=table.to_numpy(dtype=np.int64),
        sent=sent.set_index("quarter")["sent"].reindex(quarters, fill_value=0).to_numpy(dtype=np.int64),
        trials=_trials(snapshot) if trials else None,
    )


def _trials(snapshot: Snapshot) -> SlackOnTrial | None:
    try:
        return slack_on_trial(snapshot)
    except AnalysisError:
        return None


def _quarters(seen: list[str]) -> list[str]:
    """Fill the gaps between the first and the last quarter seen."""
    if not seen:
        return []
    first, last = (pd.Period(quarter, freq="Q") for quarter in (min(seen), max(seen)))
    return [f"{period.year}Q{period.quarter}" for period in pd.period_range(first, last, freq="Q")]
