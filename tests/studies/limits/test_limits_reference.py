"""Standard fits against worked values, and on worn shafts."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, PATTERN, make_store
from wearstats.errors import AnalysisError
from wearstats.report.answers import short_answers
from wearstats.store.database.connection import open_store
from wearstats.studies.limits.remarks import LimitsRemark, LimitsVerdict
from wearstats.studies.limits.study import study_limits
from wearstats.studies.snapshot import Snapshot


def _study(path: Path, rows: dict[str, list[dict[str, str | None]]]) -> Snapshot:
    return Snapshot(store=open_store(make_store(path, rows)), known_on=LATE)


def test_the_fits_of_8x32x36_are_those_of_the_standards(tmp_path: Path) -> None:
    # worked out from the tables of ISO 286-1:2010 for a width of 6 mm, classes by ISO 14:1982: H9/h10 0 to 78,
    # H11/h10 0 to 123, H9/f9 10 to 70, H9/d10 30 to 108 um; 32 mm H7/h7 0 to 50 um
    limits = study_limits(_study(tmp_path / "s.duckdb", {"patterns": [dict(PATTERN)]})).by_pattern["D8"]
    assert [(each.classes, each.fit.low_um, each.fit.high_um) for each in limits.fits] == [
        ("H9/h10", 0, 78),
        ("H11/h10", 0, 123),
        ("H9/f9", 10, 70),
        ("H9/d10", 30, 108),
    ]
    assert limits.centring is not None
    assert (limits.centring.low_um, limits.centring.high_um) == (0, 50)
    # P(clearance <= 25.4 um) of H9/h10, trapezoid law and normal law worked out by hand
    assert limits.fits[0].within_25 == pytest.approx((0.224014, 0.074708), abs=1e-6)
    assert limits.source.code == LimitsRemark.ISO_14
    # nothing was measured: nothing is said of worn shafts
    assert limits.fits[0].worn_um is None
    assert limits.verdict.code == LimitsVerdict.MAY_RATTLE


def test_another_spline_goes_by_its_width_and_a_very_wide_one_is_told(tmp_path: Path) -> None:
    odd = {**PATTERN, "pattern": "odd", "splines": "10", "width_mm": "5.448", "space_width_mm": "5.46"}
    wide = {**PATTERN, "pattern": "wide", "splines": "4", "width_mm": "55", "space_width_mm": "55", "minor_mm": "150"}
    wide |= {"major_mm": "170"}
    study = study_limits(_study(tmp_path / "s.duckdb", {"patterns": [odd, wide]}))
    assert study.by_pattern["odd"].source.code == LimitsRemark.BY_WIDTH
    assert study.by_pattern["odd"].centring is None
    assert study.by_pattern["wide"].source.code == LimitsRemark.TOO_WIDE
    assert study.by_pattern["wide"].fits == ()
    answers = list(short_answers("limits", study))
    assert answers[1].verdict == "no standard fit is on hand for this width"


def test_on_worn_shafts_the_wear_is_added(demo: Snapshot) -> None:
    limits = study_limits(demo).by_pattern["D8"]
    assert limits.worn_um.value is not None
    assert limits.fits[0].worn_um == (limits.worn_um.value, 78 + limits.worn_um.value)


def test_without_a_pattern_there_is_no_answer(tmp_path: Path) -> None:
    gauge: dict[str, str | None] = {"gauge": "G1", "kind": "caliper", "unit": "mm", "resolution": "0.01"}
    with pytest.raises(AnalysisError, match="no pattern was known on 2026-12-31; add patterns"):
        study_limits(_study(tmp_path / "s.duckdb", {"gauges": [gauge]}))
