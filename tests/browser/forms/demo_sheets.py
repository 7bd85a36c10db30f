"""The sheets of the invented data, as their owners wrote them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pandas as pd

DEMO = Path("data/demo")
STATIONS = ("shoulder", "middle", "nut-end")
SPLINES = {"D8": 8, "D10": 10}


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoSheet:
    """One inspection's first reading of each place.

    Parameters
    ----------
    inspection, pattern, reads : str
        Its name, its shaft's pattern, unit and step of its gauge.
    texts : dict
        Spline, from 1, and station, from 0, to the reading as written.
    """

    inspection: str
    pattern: str
    reads: str
    texts: dict[tuple[int, int], str]

    @property
    def whole(self) -> bool:
        """Whether no place was left out."""
        return len(self.texts) == SPLINES[self.pattern] * len(STATIONS)


@cache
def demo_sheets() -> list[DemoSheet]:
    """Give all sheets of the invented data."""
    tables = [pd.read_csv(DEMO / f"{name}.csv", dtype=str) for name in ("readings", "inspections", "gauges", "shafts")]
    readings, inspections, gauges, shafts = tables
    known = inspections.merge(gauges[["gauge", "resolution"]], on="gauge").merge(
        shafts[["shaft", "pattern"]], on="shaft"
    )
    rows = readings[readings["trial"] == "1"].groupby("inspection")
    return [
        DemoSheet(
            inspection=str(one["inspection"]),
            pattern=str(one["pattern"]),
            reads=f"{one['unit']} {one['resolution']}",
            texts={
                (int(spline), STATIONS.index(station)): str(width)
                for spline, station, width in rows.get_group(one["inspection"])[
                    ["spline", "station", "width"]
                ].itertuples(index=False)
            },
        )
        for one in known.to_dict("records")
    ]
