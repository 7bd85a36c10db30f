"""What is read off a map as it stood at the choice, on maps small enough to do by hand."""

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.methods.covariates import covariates_at_decision, read_at_decision
from wearstats.analysis.widths.data import PatternShape

SHAPE = PatternShape(pattern="P", splines=2, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
# widths from new: shoulder, middle, nut end
MAPS = {
    "F1 I1": [[-10.0, -30.0, -10.0], [-20.0, -20.0, -20.0]],
    "F2 I2": [[-10.0, -20.0, -30.0], [np.nan, np.nan, np.nan]],
    "F2 I3": [[-12.0, np.nan, -16.0], [-14.0, -14.0, -14.0]],
}


def _moments() -> pd.DataFrame:
    rows = [
        (name, spline + 1, station, value)
        for name, grid in MAPS.items()
        for spline, line in enumerate(grid)
        for station, value in enumerate(line)
        if not np.isnan(value)
    ]
    return pd.DataFrame(rows, columns=["inspection", "spline", "station", "mean_um"])


def _inspections() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "unit": ["F1", "F2", "F2"],
            "inspection": list(MAPS),
            "pattern": "P",
            "measured_at": ["home", "home", "workshop"],
            "hubs_before": [0, 1, 1],
        }
    )


@pytest.fixture
def read() -> pd.DataFrame:
    return read_at_decision(_inspections(), _moments(), {"P": SHAPE})


def test_one_map(read: pd.DataFrame) -> None:
    # mean -110/6; widest -10; the hollow middle of spline 1 is passed by the nut end: 20 of 6 places
    one = read.loc["F1"]
    assert one["mean_um"] == pytest.approx(110 / 6)
    assert one["tightest_um"] == pytest.approx(-10 + 110 / 6)
    assert one["hollow_um"] == pytest.approx(20 / 6)
    assert one["uneven_um"] == pytest.approx(np.std([-50 / 3, -20]))
    assert (one["workshop"], one["later_hub"]) == (0.0, 0.0)


def test_two_inspections_count_alike_and_places_not_read_are_passed_over(read: pd.DataFrame) -> None:
    two = read.loc["F2"]
    # a taper whose widest place lies at the shoulder leaves no hollow
    assert two["mean_um"] == pytest.approx((20 + 70 / 5) / 2)
    assert two["hollow_um"] == pytest.approx((0 + 0 / 5) / 2)
    assert two["tightest_um"] == pytest.approx(((-10 + 20) + (-12 + 14)) / 2)
    assert (two["workshop"], two["later_hub"]) == (1.0, 1.0)


def test_groups_become_marks_and_what_does_not_vary_is_left_out(read: pd.DataFrame) -> None:
    ran = pd.DataFrame(
        {
            "fitting": ["F2", "F1", "F3"],
            "period": ["2025H1", "2024H2", "2024H2"],
            "duty": ["daily", None, "daily"],
            "pattern": ["P", "P", "P"],
        }
    ).astype({"duty": "str"})
    told = covariates_at_decision(ran, read)
    assert told.index.tolist() == ["F2", "F1"]
    assert {"mean_um", "workshop"} <= set(told)
    marks = [str(name).split()[0] for name in told]
    assert (marks.count("duty"), marks.count("period"), marks.count("pattern")) == (1, 1, 0)
    assert np.isfinite(told.to_numpy()).all()
