"""Bores over registers: tolerances of ISO 286-1, and thick rings after Lame."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.register.bores import bore_for_batch, bore_over, pressed_by
from wearstats.analysis.register.remarks import BoreRemark


def test_the_bore_of_a_batch_is_no_looser_than_a_sliding_fit_on_nearly_all() -> None:
    # ISO 286-1 table 1: over 18 to 30 mm IT6 is 13 um, IT7 21 um
    few = bore_for_batch(np.array([29.97, 29.98]), 30.0)
    assert (few.low_mm, few.high_mm, few.why.code) == (30.0, 30.021, BoreRemark.OF_PATTERN)
    worn = bore_for_batch(np.linspace(29.95, 29.99, 41), 30.0)
    # 29.952 and 13 um, to a hundredth below
    assert (worn.low_mm, worn.high_mm, worn.why.code) == (29.96, 29.981, BoreRemark.OF_READINGS)
    assert worn.why.facts["turned"] == pytest.approx(30 / 41)
    # never wider than new, and whatever is read beyond the tables
    assert bore_for_batch(np.full(9, 30.2), 30.0).low_mm == 30.0
    assert bore_for_batch(np.full(9, 60.0), 60.0).high_mm is None


@pytest.mark.parametrize(
    ("bore_mm", "code"),
    [
        # both doubts together: 2 times the root of 3 and 5 um squared, 11.7 um; a sliding fit has 34 um at most
        (29.988, BoreRemark.TURN),
        (29.9885, BoreRemark.MEASURE_REGISTER),
        (29.9999, BoreRemark.MEASURE_REGISTER),
        (30.0, BoreRemark.GOES_OVER),
        (30.0456, BoreRemark.GOES_OVER),
        (30.0458, BoreRemark.TOO_WIDE),
        (None, BoreRemark.TURN_TO),
    ],
)
def test_what_to_do_hangs_on_both_doubts(bore_mm: float | None, code: BoreRemark) -> None:
    assert bore_over(30.0, 3.0, bore_mm, new_mm=30.0).code == code


def test_it_is_turned_into_the_middle_of_its_limits() -> None:
    told = bore_over(30.0, 3.0, 29.97, new_mm=30.0)
    # 30 um over, and half of H7's 21: 0.0405, in hundredths
    assert (told.facts["by_mm"], told.facts["to_mm"]) == (0.04, 30.01)
    wanted = bore_over(30.0, 3.0, None, new_mm=30.0)
    assert (wanted.facts["low_mm"], wanted.facts["high_mm"]) == (30.0, 30.021)


def test_how_hard_a_tight_bore_presses() -> None:
    # R. G. Budynas, J. K. Nisbett, Shigley's Mechanical Engineering Design, press and shrink fits: 30 mm solid in a hub
    # of 48 mm, 0.030 mm on the diameter, 207 GPa: 0.03 / (30 / 207000 * (3204 / 1404 + 1)) worked out by hand
    told = pressed_by(30.0, 29.97)
    assert told is not None
    assert told.facts["pressure_mpa"] == pytest.approx(63.07, abs=0.01)
    assert told.facts["hoop_mpa"] == pytest.approx(143.9, abs=0.1)
    assert pressed_by(30.0, 30.0) is None
    # 0.1 mm would be 480 N/mm2 round the bore, by rings that stay elastic, which they do not
    hard = pressed_by(30.0, 29.9)
    assert hard is not None
    assert hard.code == BoreRemark.BURSTS


@pytest.mark.parametrize("new_mm", [29.94, 30.51])
def test_no_cut_rests_on_a_figure_that_is_probably_a_slip(new_mm: float) -> None:
    assert bore_over(30.0, 3.0, 29.9, new_mm=new_mm).code == BoreRemark.FAR
    assert bore_over(30.0, 3.0, None, new_mm=new_mm).code == BoreRemark.FAR
