"""Places are left out one by one, by spline, by station, and whole."""

from __future__ import annotations

import pandas as pd
import pytest

from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.snapshot import Snapshot


@pytest.mark.parametrize(
    ("spline", "station", "left_out"),
    [(2, "middle", 1), (2, None, 3), (None, "middle", 8), (None, None, 24)],
)
def test_just_what_is_meant_is_left_out(demo: Snapshot, spline: int | None, station: str | None, left_out: int) -> None:
    readings = read_widths(demo).of_pattern("D8")
    counts = readings.moments.groupby("inspection").size()
    name = counts[counts == 24].index[0]
    places = pd.DataFrame({"inspection": [name], "spline": [spline], "station": [station]})
    kept = readings.without(places)
    gone = readings.moments.merge(kept.moments, how="left", indicator=True).query("_merge == 'left_only'")
    assert len(gone) == left_out == len(readings.moments) - len(kept.moments)
    assert set(gone["inspection"]) == {name}
    if spline is not None:
        assert set(gone["spline"]) == {spline}
    if station is not None:
        assert set(gone["station"]) == {1}


def test_nothing_meant_leaves_all(demo: Snapshot) -> None:
    readings = read_widths(demo)
    none = pd.DataFrame(columns=["inspection", "spline", "station"])
    assert len(readings.without(none).moments) == len(readings.moments)
