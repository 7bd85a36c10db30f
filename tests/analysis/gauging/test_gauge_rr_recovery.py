"""Gauge studies find the truth of invented data, and their intervals cover it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.width_layout import layout
from wearstats.analysis.gauging.gauge_rr import large_sample_interval, study_by_anova
from wearstats.analysis.gauging.paired_inspections import pair_inspections, study_pairs
from wearstats.analysis.gauging.remarks import GaugingRemark
from wearstats.errors import AnalysisError

REPLICATES = 2000


@pytest.mark.slow
@pytest.mark.parametrize("people", [3, 6])
@pytest.mark.parametrize("between", [0.0, 3.0])
def test_intervals_cover_repeatability_people_and_parts(people: int, between: float) -> None:
    # 10 parts, 2 trials, parts 8 um, repeatability 2 um; found once with 1000 replicates:
    #   people  their SD | repeatability  people  GRR   parts | median width of GRR
    #   3       0        | .941           .979    .961  .940  | 1.4 um
    #   3       3        | .941           .954    .950  .940  | 13.4 um
    #   6       0        | .944           .972    .964  .940  | 0.6 um
    #   6       3        | .944           .959    .961  .940  | 4.6 um
    rng = np.random.default_rng(611)
    covered = {"repeatability_um": 0, "reproducibility_um": 0, "grr_um": 0, "part_um": 0}
    truth = {
        "repeatability_um": 2.0,
        "reproducibility_um": between,
        "grr_um": float(np.hypot(2, between)),
        "part_um": 8.0,
    }
    for _ in range(REPLICATES):
        read = rng.normal(0, 8, (10, 1, 1)) + rng.normal(0, between, (1, people, 1)) + rng.normal(0, 2, (10, people, 2))
        study = study_by_anova(read)
        for name, value in truth.items():
            found = getattr(study, name)
            covered[name] += found.low <= value <= found.high
    # Monte Carlo error 0.5 %; people without any bias of their own lie on the boundary, above 97.5 % there
    for name, hits in covered.items():
        assert hits / REPLICATES >= 0.93, (name, people, between, hits / REPLICATES)


def test_one_mean_square_has_the_exact_interval() -> None:
    # derived: chi-square limits, 10 df: 20.483 and 3.247 (any table of the chi-square distribution)
    low, high = large_sample_interval(np.array([4.0]), np.array([10.0]), np.array([1.0]))
    assert low == pytest.approx(40 / 20.483, rel=1e-4)
    assert high == pytest.approx(40 / 3.247, rel=1e-4)


def _paired(units: int, *, rng: np.random.Generator) -> pd.DataFrame:
    unit, visit, spline = np.indices((units, 2, 8)).reshape(3, -1)
    true = rng.normal(0, 20, units)[unit] + rng.normal(0, 5, (units, 8))[unit, spline]
    width = true + rng.normal(0, 6, (units, 2))[unit, visit] + rng.normal(0, 4, unit.size)
    return pd.DataFrame(
        {
            "unit": unit,
            "inspection": [f"{u}-{v}" for u, v in zip(unit, visit, strict=True)],
            "measurer": [f"{u}-{v}" for u, v in zip(unit, visit, strict=True)],
            "class": "home",
            "spline": spline + 1,
            "station": 0,
            "width": width,
        }
    )


def test_pairs_of_inspections_find_the_truth() -> None:
    pairs = pair_inspections(layout(_paired(400, rng=np.random.default_rng(5)), splines=8))
    assert pairs is not None
    study = study_pairs(pairs)
    assert study.repeatability_um.value == pytest.approx(4.0, rel=0.06)
    assert study.reproducibility_um.value == pytest.approx(6.0, rel=0.12)
    assert study.grr_um.value == pytest.approx(52**0.5, rel=0.1)
    assert study.part_um.value == pytest.approx(425**0.5, rel=0.12)
    assert study.method.code == GaugingRemark.PAIRS


@pytest.mark.slow
def test_intervals_of_pairs_cover() -> None:
    rng = np.random.default_rng(7)
    hits = np.zeros(3)
    for _ in range(200):
        pairs = pair_inspections(layout(_paired(12, rng=rng), splines=8))
        assert pairs is not None
        study = study_pairs(pairs)
        for at, (found, value) in enumerate(
            ((study.repeatability_um, 4.0), (study.reproducibility_um, 6.0), (study.grr_um, 52**0.5))
        ):
            assert found.low is not None
            assert found.high is not None
            hits[at] += found.low <= value <= found.high
    # Monte Carlo error 1.5 %
    assert (hits / 200 >= 0.92).all(), hits / 200


def test_inspections_of_one_hand_do_not_tell_hands_apart() -> None:
    frame = _paired(10, rng=np.random.default_rng(8)).assign(measurer="one")
    pairs = pair_inspections(layout(frame, splines=8))
    assert pairs is not None
    with pytest.raises(AnalysisError, match="different hands"):
        study_pairs(pairs)


def test_single_inspections_form_no_pairs() -> None:
    frame = _paired(10, rng=np.random.default_rng(9))
    assert pair_inspections(layout(frame[frame["inspection"].str.endswith("-0")], splines=8)) is None
