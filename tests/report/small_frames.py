"""Small hand-made frames, as the studies give them to the charts."""

from __future__ import annotations

import pandas as pd


def fleet() -> pd.DataFrame:
    """Eight shafts of two patterns."""
    return pd.DataFrame(
        {
            "pattern": ["D8"] * 5 + ["D10"] * 3,
            "shaft": [f"S-{number}" for number in range(1, 9)],
            "width_um_below_new": [4.0, 18.0, 31.0, 47.0, 90.0, 12.0, 25.0, 60.0],
            "sd_um": [5.0] * 8,
        }
    )


def sizes() -> pd.DataFrame:
    """Four hubs of each pattern, the last no longer offered."""
    return pd.DataFrame(
        {
            "pattern": ["D8"] * 4 + ["D10"] * 4,
            "undersize_um": [0.0, 25.0, 50.0, 200.0] * 2,
            "space_um_below_new": [-20.0, 5.0, 30.0, 180.0] * 2,
            "offered": [True, True, True, False] * 2,
        }
    )


def shaft_map() -> pd.DataFrame:
    """Three splines by three stations, hollow in the middle."""
    lost = [[20.0, 55.0, 25.0], [24.0, 52.0, 22.0], [-2.0, 41.0, 18.0]]
    stations = ["shoulder", "middle", "nut-end"]
    rows = [
        {
            "spline": spline + 1,
            "station": station,
            "station_index": index,
            "width_um_below_new": lost[spline][index],
            "sd_um": 5.5,
            "reading_um_below_new": lost[spline][index] + 1.0,
            "filing_um": max(30.0 - lost[spline][index], 0.0),
            "gap_left_um": max(lost[spline][index] - 30.0, 0.0),
        }
        for spline in range(3)
        for index, station in enumerate(stations)
    ]
    return pd.DataFrame(rows)


def curves() -> pd.DataFrame:
    """Two step curves."""
    return pd.DataFrame(
        {
            "group": ["as-supplied"] * 4 + ["owner-fitted"] * 4,
            "months": [0.0, 6.0, 12.0, 18.0] * 2,
            "still_tight": [1.0, 0.95, 0.88, 0.80, 1.0, 0.99, 0.97, 0.95],
            "low": [1.0, 0.90, 0.80, 0.70, 1.0, 0.96, 0.93, 0.89],
            "high": [1.0, 0.98, 0.93, 0.88, 1.0, 1.0, 0.99, 0.98],
        }
    )


def at_risk() -> pd.DataFrame:
    """The fittings still watched under those curves."""
    return pd.DataFrame(
        {
            "group": ["as-supplied"] * 4 + ["owner-fitted"] * 4,
            "months": [0.0, 6.0, 12.0, 18.0] * 2,
            "at_risk": [40, 30, 18, 9, 55, 44, 30, 12],
        }
    )


def returns() -> pd.DataFrame:
    """Three quarters by three reasons."""
    counts = {"would-not-go-on": [4, 5, 7], "worked-loose": [2, 0, 1], "not-needed": [0, 1, 0]}
    return pd.DataFrame(
        [
            {"quarter": f"2026Q{quarter + 1}", "reason": reason, "returns": numbers[quarter]}
            for reason, numbers in counts.items()
            for quarter in range(3)
        ]
    )
