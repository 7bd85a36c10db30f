"""Coarsely rounded readings as intervals: against sampling, against fine gauges, and on fleets of known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtr, ndtri

from tests.simulation.rounding import fleet, map_errors
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import ASSUMED_UM, WidthFit
from wearstats.analysis.widths.interval_readings import error_correlation
from wearstats.analysis.widths.prediction import predict_maps, with_sites
from wearstats.domain.arrays import FloatArray

SPLINES, STATIONS = 4, 3
SHAPE = PatternShape(pattern="P", splines=SPLINES, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
STATION_MEANS = np.array([-30.0, -36.0, -28.0])


def known_fit() -> WidthFit:
    """Give the assumed components, known means and no doubt about either."""
    names = [f"station:P:{station}" for station in SHAPE.stations] + ["class:home"]
    values = np.append(STATION_MEANS, 3.0)
    return WidthFit(
        components_um={name: Estimate(value=ASSUMED_UM[name]) for name in COMPONENTS},
        variances=np.array([ASSUMED_UM[name] ** 2 for name in COMPONENTS]),
        free=np.ones(len(COMPONENTS), dtype=bool),
        means=pd.DataFrame({"name": names, "value_um": values, "se_um": 0.0}),
        mean_covariance=np.zeros((4, 4)),
        variance_covariance=np.zeros((len(COMPONENTS), len(COMPONENTS))),
        measurers=pd.DataFrame(),
        units=1,
        readings=1,
        criterion=0.0,
    )


def one_unit(shown: dict[str, FloatArray], steps: dict[str, float]) -> WidthData:
    """Lay out one shaft's inspections by class, NaN where not read."""
    heads, moments = [], []
    for kind, widths in shown.items():
        heads.append((kind, "1", "1", "P", "", kind, kind, steps[kind], np.nan, True))
        spline, station = np.nonzero(np.isfinite(widths))
        moments.append(
            pd.DataFrame(
                {
                    "inspection": kind,
                    "spline": spline + 1,
                    "station": station,
                    "n": 1,
                    "mean_um": widths[spline, station],
                    "within_um2": 0.0,
                }
            )
        )
    columns = ["inspection", "unit", "shaft", "pattern", "group", "measurer", "class", "step_um", "check_um", "marked"]
    return reduce_readings(pd.concat(moments, ignore_index=True), pd.DataFrame(heads, columns=columns), {"P": SHAPE})


def sampled(
    shown: dict[str, FloatArray], steps: dict[str, float], *, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Sample the unrounded readings given their intervals one by one (Gibbs), and with them mean and covariance of the
    map; dense and independent of the package."""
    sd = ASSUMED_UM
    grid = np.array([(s, t) for s in range(SPLINES) for t in range(STATIONS)])
    same_s, same_t = grid[:, None, 0] == grid[None, :, 0], grid[:, None, 1] == grid[None, :, 1]
    prior = sd["shaft"] ** 2 + sd["spline"] ** 2 * same_s + sd["shaft_station"] ** 2 * same_t
    prior = prior + sd["cell"] ** 2 * (same_s & same_t)
    kinds = np.concatenate([[kind] * int(np.isfinite(w).sum()) for kind, w in shown.items()])
    place = np.concatenate([np.flatnonzero(np.isfinite(w)) for w in shown.values()])
    values = np.concatenate([w[np.isfinite(w)] for w in shown.values()])
    half = np.array([steps[kind] / 2 for kind in kinds])
    bias = np.array([sd[f"measurer_{kind}"] ** 2 + sd[f"inspection_{kind}"] ** 2 for kind in kinds])
    noise = np.array([sd[f"repeatability_{kind}"] ** 2 for kind in kinds])
    covariance = prior[np.ix_(place, place)] + bias * (kinds[:, None] == kinds) + np.diag(noise)
    level = np.tile(STATION_MEANS, SPLINES)
    mean = level[place] + 3.0 * (kinds == "home")
    inverse = np.linalg.inv(covariance)
    x = np.tile(values, (2000, 1))
    gain = prior[:, place] @ inverse
    maps = []
    for sweep in range(400):
        for i in range(values.size):
            spread = 1 / np.sqrt(inverse[i, i])
            middle = x[:, i] - (x - mean) @ inverse[i] / inverse[i, i]
            low, high = ndtr((values[i] - half[i] - middle) / spread), ndtr((values[i] + half[i] - middle) / spread)
            x[:, i] = middle + spread * ndtri(np.clip(low + rng.random(2000) * (high - low), 1e-15, 1 - 1e-15))
        if sweep >= 100 and sweep % 10 == 0:
            maps.append(level + (x - mean) @ gain.T)
    told = np.concatenate(maps)
    return told.mean(axis=0), np.cov(told.T) + prior - gain @ prior[place]


HOME = 25.4 * np.array([[-1.0, -2, -1], [-1, -1, -1], [-2, -2, -1], [-1, np.nan, -1]])
CASES = {
    "thou": ({"home": HOME}, {"home": 25.4}),
    "one value": ({"home": np.full((SPLINES, STATIONS), -25.4)}, {"home": 25.4}),
    "one place far out": ({"home": np.where(np.arange(12).reshape(4, 3) == 5, -101.6, HOME)}, {"home": 25.4}),
    "with a fine gauge": (
        {"home": HOME, "workshop": np.where(np.eye(4, 3) > 0, -31.0, np.nan)},
        {"home": 25.4, "workshop": 1.0},
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_maps_agree_with_sampling(case: str) -> None:
    shown, steps = CASES[case]
    mean, covariance = sampled(shown, steps, rng=np.random.default_rng(7))
    prediction = predict_maps(known_fit(), one_unit(shown, steps))[0]
    assert prediction.mean_um[0] == pytest.approx(mean, abs=0.25)
    assert prediction.sd_um[0] == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.03)
    scale = float(covariance.max())
    assert prediction.covariance_um2[0] / scale == pytest.approx(covariance / scale, abs=0.05)


def test_more_readings_in_one_interval_do_not_average_rounding_out() -> None:
    shown = {"home": np.full((SPLINES, STATIONS), -25.4)}
    told = predict_maps(known_fit(), one_unit(shown, {"home": 25.4}))[0]
    fine = predict_maps(known_fit(), one_unit(shown, {"home": 1.0}))[0]
    assert told.sd_um.min() > fine.sd_um.max()


def test_data_without_coarse_gauges_are_untouched() -> None:
    data = one_unit({"home": HOME}, {"home": 10.0})
    assert with_sites(known_fit(), data) is data


def test_errors_correlate_as_drawn() -> None:
    rng = np.random.default_rng(3)
    middle = rng.uniform(0, 25.4, 400_000)
    first, second = (
        read - np.round(read / 25.4) * 25.4 for read in (middle + rng.normal(0, 5, middle.size) for _ in range(2))
    )
    assert error_correlation(5.0, 25.4) == pytest.approx(np.corrcoef(first, second)[0, 1], abs=0.006)
    assert error_correlation(1.0, 2.5) < 0.002


def test_repeatability_of_a_fleet_of_thou_gauges_is_found() -> None:
    data, true = fleet(250, step=25.4, repeatability=2.0, rng=np.random.default_rng(11))
    fit = fit_widths(data, intervals=False)
    assert fit.components_um["repeatability_home"].value == pytest.approx(2.0, abs=1.0)
    places, means = map_errors(fit, data, true)
    assert 0.93 <= np.mean(np.abs(places) < 1.96) <= 0.985
    assert 0.92 <= np.mean(np.abs(means) < 1.96) <= 0.99
