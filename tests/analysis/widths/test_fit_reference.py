"""The width model against published crossed designs and against a dense computation."""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.support.reference_frames import reference_frame
from tests.analysis.support.width_layout import (
    POSITIVE,
    component,
    crossed_readings,
    dense_criterion,
    dense_measurers,
    fit,
    layout,
)
from wearstats.analysis.numerics.reml import maximise_reml
from wearstats.analysis.widths.components import COMPONENTS, couple
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.domain.arrays import FloatArray

TRUTH = np.array([5.0, 3, 2, 1.5, 4, 2, 0, 3, 1, 0, 6, 2, 1])
FREE = np.array([not name.endswith("caliper") for name in COMPONENTS])


def crossed(name: str, unit: str, measurer: str, value: str) -> WidthData:
    frame = reference_frame(f"{name}.csv").rename(columns={unit: "unit", measurer: "measurer", value: "width"})
    inspection = frame["unit"].astype(str) + "/" + frame["measurer"].astype(str)
    return layout(frame.assign(inspection=inspection, spline=1, station=0, **{"class": "workshop"}))


def test_penicillin_as_published() -> None:
    # Bates, lme4: Mixed-effects modeling with R (2010 draft), chapter 2: REML, plates crossed with samples
    found = fit(
        crossed("penicillin", "plate", "sample", "diameter"),
        ["shaft", "measurer_workshop", "repeatability_workshop"],
    )
    assert component(found, "shaft") == pytest.approx(0.7169, abs=1e-4)
    assert component(found, "measurer_workshop") == pytest.approx(3.7309, abs=1e-4)
    assert component(found, "repeatability_workshop") == pytest.approx(0.3024, abs=1e-4)
    assert found.point.criterion == pytest.approx(330.8606, abs=1e-4)


@pytest.mark.parametrize("interaction", [False, True])
def test_gauge_study_as_published(interaction: bool) -> None:
    # AIAG, Measurement Systems Analysis, ANOVA worked example: the negative interaction is pooled, REML puts it at zero
    free = ["shaft", "measurer_workshop", "repeatability_workshop"] + ["inspection_workshop"] * interaction
    found = fit(crossed("gauge_study", "part", "appraiser", "y"), free)
    assert component(found, "shaft") == pytest.approx(1.086447, abs=1e-5)
    assert component(found, "measurer_workshop") == pytest.approx(0.051455, abs=1e-6)
    assert component(found, "repeatability_workshop") == pytest.approx(0.039973, abs=1e-6)
    assert component(found, "inspection_workshop") == 0.0


@pytest.fixture(scope="module")
def likelihood() -> WidthLikelihood:
    data = layout(crossed_readings(3), splines=4, stations=3)
    return WidthLikelihood(data, couple(data, classes=("home",)))


def test_criterion_equals_the_dense_one(likelihood: WidthLikelihood) -> None:
    # independent computation: the full covariance matrix of all readings, inverted
    for variances in (TRUTH, TRUTH * FREE * np.linspace(0, 2, TRUTH.size) + POSITIVE):
        dense = dense_criterion(crossed_readings(3), variances)
        assert likelihood.evaluate(variances).criterion == pytest.approx(dense, rel=1e-10)


def test_score_equals_the_slope_of_the_dense_criterion(likelihood: WidthLikelihood) -> None:
    frame = crossed_readings(3)
    score = likelihood.evaluate(TRUTH).score
    for k in np.flatnonzero(FREE):
        step = np.zeros(TRUTH.size)
        step[k] = 1e-4
        slope = (dense_criterion(frame, TRUTH + step) - dense_criterion(frame, TRUTH - step)) / 2e-4
        assert score[k] == pytest.approx(-slope / 2, rel=1e-5, abs=1e-6)


def test_maximum_equals_the_dense_one_to_six_digits(likelihood: WidthLikelihood) -> None:
    frame = crossed_readings(3)
    found = maximise_reml(likelihood.evaluate, TRUTH, free=FREE, positive=POSITIVE)

    def dense(logs: FloatArray) -> float:
        variances = found.variances.copy()
        variances[inside] = np.exp(logs)
        return dense_criterion(frame, variances)

    inside = np.flatnonzero(FREE & (found.variances > 0))
    # a Newton step of the dense criterion from the maximum must lead nowhere
    start = np.log(found.variances[inside])
    steps = 1e-4 * np.eye(start.size)
    gradient = np.array([(dense(start + step) - dense(start - step)) / 2e-4 for step in steps])
    hessian = 2 * found.point.information[np.ix_(inside, inside)] * np.outer(np.exp(start), np.exp(start))
    # in the logarithm of a variance; the differences of a criterion of about 2000 show no more digits
    assert np.abs(np.linalg.solve(hessian, gradient)).max() < 5e-6
    at_zero = np.flatnonzero(FREE & (found.variances == 0))
    for k in at_zero:
        step = np.zeros(TRUTH.size)
        step[k] = 1e-3
        assert dense_criterion(frame, found.variances + step) > dense_criterion(frame, found.variances)


def test_what_measurers_read_too_large_equals_the_dense_prediction(likelihood: WidthLikelihood) -> None:
    solution = likelihood.solve(TRUTH)
    dense = dense_measurers(crossed_readings(3), TRUTH)
    told = list(likelihood.measurers)
    assert {"hand-0", "hand-1", "owner-x"} <= set(told)
    for who, bias, sd in zip(told, solution.measurer_bias_um, solution.measurer_sd_um, strict=True):
        assert (bias, sd) == pytest.approx(dense[str(who)], abs=1e-6), who
