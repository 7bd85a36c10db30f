"""The answer for one shaft: what is known of it, what every size would do, and which to send."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.analysis.advice.rule import Advice
from wearstats.analysis.estimate import Z95, Estimate, no_estimate
from wearstats.analysis.remark import Remark
from wearstats.domain.arrays import FloatArray
from wearstats.store.advice import GivenAdvice
from wearstats.studies.gaps.contact_of_fitting import FittingSeen

CHOICE_COLUMNS = (
    "undersize_um",
    "method",
    *(
        f"{name}{end}"
        for name in ("clearance_um", "gap_left_um", "contact_share", "risk", "cost")
        for end in ("", "_low", "_high")
    ),
    "filing_min",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """One size fitted by one method.

    Parameters
    ----------
    undersize_um, method
        Which.
    clearance_um, gap_left_um, contact_share : Estimate
        What it would leave.
    filing_um : ndarray, shape (splines, stations)
        What has to come off at each place.
    filing_min : float
        How long that takes; 0 where it goes on as supplied.
    risk : tuple of (months, Estimate)
        Chance of working loose.
    cost : Estimate
        Expected cost, failures within 12 months counted.
    """

    undersize_um: float
    method: str
    clearance_um: Estimate
    gap_left_um: Estimate
    contact_share: Estimate
    filing_um: FloatArray
    filing_min: float
    risk: tuple[tuple[float, Estimate], ...]
    cost: Estimate

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "undersize_um": self.undersize_um,
            "method": self.method,
            "clearance_um": self.clearance_um.to_dict(),
            "gap_left_um": self.gap_left_um.to_dict(),
            "contact_share": self.contact_share.to_dict(),
            "filing_um": self.filing_um.tolist(),
            "filing_min": self.filing_min,
            "risk": [{"months": months, **risk.to_dict()} for months, risk in self.risk],
            "cost": self.cost.to_dict(),
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftStudy:
    """The answer for one shaft.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    shaft, pattern : str
        Which.
    inspections : tuple of str
        The readings in hand: since the last hub came off.
    width_um_below_new : Estimate
        Mean wear.
    map : DataFrame
        See `map_frame`.
    choices : tuple of Choice
        Sizes on offer by method.
    currency : str or None
        Of the costs; None where there are none.
    advice : Advice
        What to do.
    cautions : tuple of Remark or str
        What to beware of on this shaft.
    history : DataFrame
        See `history_frame`.
    seen : FittingSeen or None
        Contact foretold and marked at its last fitting; None where no marks were noted.
    """

    as_of: datetime.date
    shaft: str
    pattern: str
    inspections: tuple[str, ...]
    width_um_below_new: Estimate
    map: pd.DataFrame
    choices: tuple[Choice, ...]
    currency: str | None
    advice: Advice
    cautions: tuple[Remark | str, ...]
    history: pd.DataFrame
    seen: FittingSeen | None = None

    def history_frame(self) -> pd.DataFrame:
        """One row an inspection of the shaft, before earlier hubs too, by day.

        ``inspection``, ``measured_on``, ``measured_by``, ``kind``, ``hubs_before``, ``width_um_below_new``, ``sd_um``,
        as its readings alone have it, and ``low_um_below_new`` and ``high_um_below_new``, which enclose 95 %.
        """
        return self.history

    def map_frame(self) -> pd.DataFrame:
        """One row a place: ``spline``, ``station``, ``station_index``, widths, and what the advised hub does there."""
        return self.map

    def choices_frame(self) -> pd.DataFrame:
        """One row a choice, with intervals as ``…_low`` and ``…_high``; ``risk`` is that within 12 months."""
        rows = []
        for choice in self.choices:
            row: dict[str, Any] = {"undersize_um": choice.undersize_um, "method": choice.method}
            for name in ("clearance_um", "gap_left_um", "contact_share"):
                estimate: Estimate = getattr(choice, name)
                row |= {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
            risk = choice.risk[0][1] if choice.risk else no_estimate("")
            for name, told in (("risk", risk), ("cost", choice.cost)):
                row |= {name: told.value, f"{name}_low": told.low, f"{name}_high": told.high}
            rows.append({**row, "filing_min": choice.filing_min})
        return pd.DataFrame(rows, columns=list(CHOICE_COLUMNS))

    def given(self, *, version: str) -> GivenAdvice:
        """Give the advice as the store keeps it, by a version of the program."""
        advice = self.advice
        risk = next(
            (
                choice.risk[0][1].value
                for choice in self.choices
                if (choice.undersize_um, choice.method) == (advice.undersize_um, advice.method) and choice.risk
            ),
            None,
        )
        return GivenAdvice(
            shaft=self.shaft,
            given_on=self.as_of,
            inspections=self.inspections,
            do=advice.do,
            undersize_um=advice.undersize_um,
            method=advice.method,
            risk=risk,
            version=version,
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        stations = self.map.sort_values(["spline", "station_index"])
        grid = [
            [
                Estimate(
                    value=row["width_um_below_new"],
                    low=row["width_um_below_new"] - Z95 * row["sd_um"],
                    high=row["width_um_below_new"] + Z95 * row["sd_um"],
                    method="best linear prediction",
                ).to_dict()
                for row in rows.to_dict("records")
            ]
            for _, rows in stations.groupby("spline", sort=True)
        ]
        return {
            "shaft": self.shaft,
            "pattern": self.pattern,
            "inspections": list(self.inspections),
            "stations": stations["station"].head(stations["station_index"].nunique()).tolist(),
            "width_um_below_new": self.width_um_below_new.to_dict(),
            "map_um": grid,
            "currency": self.currency,
            "choices": [choice.to_dict() for choice in self.choices],
            "advice": self.advice.to_dict(),
            "cautions": list(self.cautions),
            "last_fitting": None if self.seen is None else self.seen.to_dict(),
            "history": [{**row, "measured_on": str(row["measured_on"])} for row in self.history.to_dict("records")],
        }
