"""The width model finds the truth of an invented fleet, and its predictions are as sure as they say."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.opposite_pairs import opposite_pairs
from wearstats.analysis.gaps.posterior import draw_maps, estimate_draws, fit_draws
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import ASSUMED_UM, WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import gap_left
from wearstats.errors import AnalysisError

SPLINES, STATIONS = 8, 3
SHAPE = PatternShape(pattern="P", splines=SPLINES, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
TRUE_SD = {
    "spline": 4.0,
    "shaft_station": 5.0,
    "cell": 3.0,
    "measurer_home": 6.0,
    "inspection_home": 3.0,
    "repeatability_home": 5.0,
    "repeatability_workshop": 2.0,
}
HOME_BIAS = 4.0


def invent(
    shafts: int, *, rng: np.random.Generator, workshop: float = 0.35, again: float = 0.2
) -> tuple[WidthData, FloatArray]:
    """Invent widths (skewed, a fifth hardly worn) and readings; independent of the package's own simulator."""
    worn = rng.random(shafts) < 0.8
    level = -rng.gamma(1.5, 25.0, shafts) * worn + rng.normal(0, 6, shafts)
    true = (
        level[:, None, None]
        + rng.normal(0, TRUE_SD["spline"], (shafts, SPLINES, 1))
        + np.array([2.0, -4.0, 2.0])
        + rng.normal(0, TRUE_SD["shaft_station"], (shafts, 1, STATIONS))
        + rng.normal(0, TRUE_SD["cell"], (shafts, SPLINES, STATIONS))
    )
    hands = rng.normal(0, 1.5, 4)
    heads, moments = [], []
    for shaft in range(shafts):
        owner = rng.normal(HOME_BIAS, TRUE_SD["measurer_home"])
        visits = [("home", f"owner-{shaft}", owner)]
        if rng.random() < again:
            visits.append(visits[0])
        if rng.random() < workshop:
            hand = int(rng.integers(4))
            visits.append(("workshop", f"hand-{hand}", hands[hand]))
        for number, (kind, who, bias) in enumerate(visits):
            home = kind == "home"
            step = 10.0 if home else 1.0
            shift = bias + rng.normal(0, 3.0 if home else 1.0)
            noise = TRUE_SD["repeatability_home" if home else "repeatability_workshop"]
            read = np.round((true[shaft] + shift + rng.normal(0, noise, true[shaft].shape)) / step) * step
            check = np.round((shift + rng.normal(0, noise)) / step) * step if home and rng.random() < 0.2 else np.nan
            name = f"{shaft}-{number}"
            heads.append((name, str(shaft), who, kind, step, check))
            spline, station = np.nonzero(rng.random(true[shaft].shape) < 0.8)
            moments.append(
                pd.DataFrame(
                    {
                        "inspection": name,
                        "spline": spline + 1,
                        "station": station,
                        "n": 1,
                        "mean_um": read[spline, station],
                        "within_um2": 0.0,
                    }
                )
            )
    inspections = pd.DataFrame(heads, columns=["inspection", "unit", "measurer", "class", "step_um", "check_um"])
    inspections = inspections.assign(shaft=inspections["unit"], pattern="P", group="", marked=True)
    return reduce_readings(pd.concat(moments, ignore_index=True), inspections, {"P": SHAPE}), true


def errors(fit: WidthFit, data: WidthData, true: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the standardised errors of all places, and of the shafts' means."""
    places, means = [], []
    average = np.full(SHAPE.places, 1 / SHAPE.places)
    for prediction in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[prediction.unit]
        error = true[shaft].reshape(shaft.size, -1) - prediction.mean_um
        places.append((error / prediction.sd_um).ravel())
        spread = np.sqrt(np.einsum("i,uij,j->u", average, prediction.covariance_um2, average))
        means.append(error @ average / spread)
    return np.concatenate(places), np.concatenate(means)


@pytest.fixture(scope="module")
def fleet() -> tuple[WidthData, FloatArray, WidthFit]:
    data, true = invent(500, rng=np.random.default_rng(20260930))
    return data, true, fit_widths(data)


def test_components_and_home_bias_are_found(fleet: tuple[WidthData, FloatArray, WidthFit]) -> None:
    _, _, fit = fleet
    for name, truth in TRUE_SD.items():
        estimate = fit.components_um[name]
        assert estimate.status == "ok"
        assert estimate.low is not None
        assert estimate.high is not None
        # nine intervals of 95 %: allow each a third more than its half width
        slack = (estimate.high - estimate.low) / 6
        assert estimate.low - slack <= truth <= estimate.high + slack, name
    bias = fit.mean_of("class:home")
    assert bias is not None
    assert abs(bias[0] - HOME_BIAS) < 3 * bias[1]


def test_map_intervals_cover(fleet: tuple[WidthData, FloatArray, WidthFit]) -> None:
    data, true, fit = fleet
    places, means = errors(fit, data, true)
    # 500 shafts share little, so the Monte Carlo error of the means' coverage is about 1 %
    assert 0.93 <= np.mean(np.abs(places) < 1.96) <= 0.97
    assert 0.92 <= np.mean(np.abs(means) < 1.96) <= 0.98


def test_gap_intervals_cover_hubs_chosen_on_the_same_readings(fleet: tuple[WidthData, FloatArray, WidthFit]) -> None:
    data, true, fit = fleet
    rng = np.random.default_rng(5)
    covered = []
    for prediction in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[prediction.unit]
        # chosen as a shop does: on the raw mean of the first inspection, to the next 25 um
        block = next(block for block in data.blocks if np.array_equal(block.unit, prediction.unit))
        seen = block.count[:, 0, : SHAPE.places]
        raw = (block.mean[:, 0, : SHAPE.places] * seen).sum(axis=1) / seen.sum(axis=1)
        space = np.round(raw / 25) * 25 - 5
        draws = fit_draws(
            draw_maps(prediction, opposite_pairs(rng, 400, prediction.shape.places)),
            np.repeat(space[:, None], 400, axis=1),
        )
        truth = gap_left(true[shaft], space[:, None, None]).mean(axis=(1, 2))
        for row, value in zip(draws.gap_left_um, truth, strict=True):
            estimate = estimate_draws(row)
            assert estimate.low is not None
            assert estimate.high is not None
            covered.append(estimate.low <= value <= estimate.high)
    assert 0.92 <= np.mean(covered) <= 0.98


def test_unidentified_components_are_assumed_and_say_so() -> None:
    data, _ = invent(12, rng=np.random.default_rng(1), workshop=0.0, again=0.0)
    fit = fit_widths(data, intervals=False)
    for name in ("measurer_workshop", "inspection_home", "repeatability_home", "repeatability_caliper"):
        assert fit.components_um[name].status == "assumed"
        assert fit.components_um[name].value == ASSUMED_UM[name]


def test_one_shaft_is_predicted_on_assumptions() -> None:
    data, true = invent(1, rng=np.random.default_rng(2), workshop=0.0, again=0.0)
    fit = fit_widths(data)
    prediction = predict_maps(fit, data)[0]
    assert all(estimate.status == "assumed" for name, estimate in fit.components_um.items() if name == "shaft")
    # an owner's bias is not known better than the stated limits say
    assert prediction.sd_um.min() > 6.0
    assert np.abs(prediction.mean_um - true.reshape(1, -1)).max() < 40


def test_no_reading_at_all_is_refused() -> None:
    data, _ = invent(1, rng=np.random.default_rng(2))
    empty = WidthData(
        blocks=(), units=data.units[:0], inspections=data.inspections[:0], within=data.within[:0], readings=0
    )
    with pytest.raises(AnalysisError, match="no width readings"):
        fit_widths(empty)


def test_a_station_that_nobody_ever_read_is_named() -> None:
    moments = pd.DataFrame(
        {"inspection": "I1", "spline": range(SPLINES), "station": 1, "n": 1, "mean_um": -20.0, "within_um2": 0.0}
    )
    inspections = pd.DataFrame(
        {
            "inspection": ["I1"], "unit": ["S1#0"], "shaft": ["S1"], "pattern": ["P"], "group": ["daily"],
            "measurer": ["a"], "class": ["home"], "step_um": [1.0], "marked": [True], "check_um": [np.nan],
        }
    )  # fmt: skip
    data = reduce_readings(moments, inspections, {"P": SHAPE})
    with pytest.raises(AnalysisError, match="ever read at station shoulder"):
        fit_widths(data)
