"""What came back: hubs returned by quarter and reason, beside the hubs sent."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

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
    """

    as_of: datetime.date
    quarters: tuple[str, ...]
    reasons: tuple[str, ...]
    counts: np.ndarray[tuple[int, int], np.dtype[np.int64]]
    sent: np.ndarray[tuple[int], np.dtype[np.int64]]

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
            "returns": dict(zip(self.reasons, self.counts.sum(axis=0), strict=True)),
            "by_quarter": [
                {"quarter": quarter, "sent": sent, "returns": dict(zip(self.reasons, row, strict=True))}
                for quarter, sent, row in zip(self.quarters, self.sent, self.counts, strict=True)
            ],
        }


def study_returns(snapshot: Snapshot) -> ReturnsStudy:
    """Count the hubs that came back; empty where nothing was sent or returned."""
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
    )


def _quarters(seen: list[str]) -> list[str]:
    """Fill the gaps between the first and the last quarter seen."""
    if not seen:
        return []
    first, last = (pd.Period(quarter, freq="Q") for quarter in (min(seen), max(seen)))
    return [f"{period.year}Q{period.quarter}" for period in pd.period_range(first, last, freq="Q")]
