"""Whether one hub bore as it was predicted to, as far as marks were noted when it went on."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.remarks import GapRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.contact_verdict import judge_fitting
from wearstats.studies.inputs.widths import WidthReadings
from wearstats.studies.snapshot import Snapshot

COLUMNS = ("fitting", "shaft", "pattern", "predicted", "low", "high", "marked")


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingSeen:
    """What was predicted for one fitting, and what was marked.

    Parameters
    ----------
    fitting, shaft : str
        Which.
    predicted : Estimate
        Share of its sides that bear.
    marked : float
        Share of its sides on which marks were noted.
    """

    fitting: str
    shaft: str
    predicted: Estimate
    marked: float

    @property
    def verdict(self) -> Remark:
        """Whether the hub bore where that was predicted."""
        return judge_fitting(predicted=self.predicted, marked=self.marked)

    @property
    def within(self) -> bool:
        """Whether what was marked lies within what was predicted."""
        low, high = self.predicted.low, self.predicted.high
        return low is not None and high is not None and low - 1e-9 <= self.marked <= high + 1e-9

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {each.name: getattr(self, each.name) for each in fields(self)} | {
            "within": self.within,
            "verdict": self.verdict,
        }


def last_fitting_seen(
    snapshot: Snapshot, last: list[dict[str, Any]], *, fit: WidthFit, readings: WidthReadings
) -> FittingSeen | None:
    """Compare contact predicted with contact marked for a shaft's last fitting.

    Parameters
    ----------
    last : list of dict
        Its last fitting, as ``fittings/last_fitting`` has it; empty where there is none.
    fit : WidthFit
        The width model of all shafts.
    readings : WidthReadings
        All readings of the shaft.

    Returns
    -------
    FittingSeen or None
        None where the shaft has no fitting, or its last one has no marks, or no reading was in hand for it.
    """
    if not last or pd.isna(last[0]["drive_marked"]) or pd.isna(last[0]["coast_marked"]):
        return None
    # only where there are marks is the room needed that draws gaps, and reading it takes a while
    from wearstats.studies.gaps.known_gaps import draw_known_gaps

    fittings = snapshot.query("fittings/choices", pattern=None, shafts=[str(last[0]["shaft"])])
    try:
        gaps = draw_known_gaps(snapshot, readings, fit, fittings)
    except AnalysisError:
        return None
    told = with_marks(gaps.frame)
    name = str(last[0]["fitting"])
    return one_seen(told, name) if told["fitting"].eq(name).any() else None


def with_marks(frame: pd.DataFrame) -> pd.DataFrame:
    """Keep the fittings with marks, and what was predicted for them without these."""
    names = {"bearing_share": "predicted", "bearing_low": "low", "bearing_high": "high", "marked_share": "marked"}
    told = frame[frame["marked_share"].notna()].rename(columns=names)
    return told[list(COLUMNS)].sort_values("fitting", ignore_index=True)


def one_seen(told: pd.DataFrame, name: str) -> FittingSeen:
    """Give one fitting of those with marks; AnalysisError where it is not among them."""
    found = told[told["fitting"] == name].to_dict("records")
    if not found:
        raise AnalysisError(
            f"fitting {name} has no marks, or no reading was in hand when its hub was chosen",
            needed="its drive_marked and coast_marked, and the inspection its hub was chosen by",
        )
    row = found[0]
    predicted = Estimate(value=row["predicted"], low=row["low"], high=row["high"], method=remark(GapRemark.PREDICTED))
    return FittingSeen(fitting=name, shaft=str(row["shaft"]), predicted=predicted, marked=float(row["marked"]))
