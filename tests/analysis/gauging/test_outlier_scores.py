"""How far off a reading or a spline is, in scatters: worked out by hand on one sheet of five splines."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.analysis.support.width_layout import layout
from wearstats.analysis.gauging.outliers import find_stray_readings
from wearstats.analysis.gauging.remarks import StrayRemark

PLACE, SPLINE = {"home": 3.0, "workshop": 3.0, "caliper": 3.0}, {"home": 4.0, "workshop": 4.0, "caliper": 4.0}
SHEET = {(spline, station): 10.0 * station for spline in range(5) for station in range(3)}


def found(sheet: dict[tuple[int, int], float]) -> pd.DataFrame:
    readings = pd.DataFrame(
        [
            {"unit": "S", "measurer": "a", "inspection": 1, "class": "home", "spline": spline + 1, "station": station,
             "width": um}
            for (spline, station), um in sheet.items()
        ]
    )  # fmt: skip
    return find_stray_readings(layout(readings, splines=5, stations=3), place_sd_um=PLACE, spline_sd_um=SPLINE)


def test_a_sheet_without_strays_names_none() -> None:
    assert found(SHEET).empty


@pytest.mark.parametrize(("off", "score"), [(16.0, 16 / 3), (-18.0, 6.0)])
def test_a_place_is_off_by_its_distance_from_its_row_and_column(off: float, score: float) -> None:
    table = found(SHEET | {(2, 1): 10.0 + off})
    assert table[["spline", "station"]].to_numpy().tolist() == [[3, "s1"]]
    assert table["found_um"].tolist() == pytest.approx([10.0 + off])
    assert table["expected_um"].tolist() == pytest.approx([10.0])
    assert table["score"].tolist() == pytest.approx([score])
    # nearer than five scatters it is left alone
    assert found(SHEET | {(2, 1): 10.0 + 14.0}).empty


@pytest.mark.parametrize("off", [24.0, -24.0])
def test_a_spline_is_off_where_all_its_places_are(off: float) -> None:
    table = found(SHEET | {(2, station): 10.0 * station + off for station in range(3)})
    assert table["spline"].tolist() == [3]
    assert table["station"].isna().all()
    assert table["score"].tolist() == pytest.approx([6.0])
    assert table["found_um"].tolist() == pytest.approx([10.0 + off])
    assert table["expected_um"].tolist() == pytest.approx([10.0])
    assert found(SHEET | {(2, station): 10.0 * station + 19.0 for station in range(3)}).empty


def test_a_spline_read_once_may_be_off_by_both_scatters_together() -> None:
    once = {place: um for place, um in SHEET.items() if place[0] != 2}
    # of 3 and 4 together: 5
    assert found(once | {(2, 1): 10.0 + 24.0}).empty
    table = found(once | {(2, 1): 10.0 + 26.0})
    assert table["spline"].tolist() == [3]
    assert table["score"].tolist() == pytest.approx([26 / 5])


SLIPS = {
    500.0: StrayRemark.THIMBLE_TURN, 635.0: StrayRemark.INCH_THIMBLE_TURN, 25.4: StrayRemark.THOUSANDTH,
    50.0: StrayRemark.THIMBLE_LINE, 100.0: StrayRemark.DIGIT, 1000.0: StrayRemark.DIGIT,
    90.0: StrayRemark.DIGITS_SWAPPED, 450.0: StrayRemark.DIGITS_SWAPPED, 900.0: StrayRemark.DIGITS_SWAPPED,
}  # fmt: skip


@pytest.mark.parametrize("off", SLIPS)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_slip_of_the_pen_is_named_by_how_far_it_moves_a_reading(off: float, sign: float) -> None:
    (why,) = found(SHEET | {(2, 1): 10.0 + sign * off})["why"]
    slip = why.facts["slip"]
    assert slip.code == SLIPS[off]
    assert slip.facts.get("off_um", off) == off
    # what no slip explains is told without one: 225 lies far from all of them
    (other,) = found(SHEET | {(2, 1): 10.0 + sign * 225.0})["why"]
    assert other.facts["slip"] is None
