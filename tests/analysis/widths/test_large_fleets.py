"""Mean widths without the maps are those with the maps."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.width_layout import crossed_readings, layout
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit, cautious
from wearstats.analysis.widths.large_fleets import BlockInspections, unit_levels
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone


def _partly_marked(data: WidthData) -> WidthData:
    """Lay the same readings out again as if spline 1 had been marked in some inspections only."""
    frame = crossed_readings(5)
    grouped = frame.groupby(["inspection", "spline", "station"])["width"]
    moments = grouped.agg(n="size", mean_um="mean", within_um2="var").reset_index().fillna({"within_um2": 0.0})
    heads = data.inspections.merge(data.units, on="unit").assign(check_um=np.nan)
    marked = np.arange(len(heads)) % 3 > 0
    return reduce_readings(moments, heads.assign(marked=marked), {"P": data.blocks[0].shape})


def _told_by(data: WidthData, at: int) -> BlockInspections:
    block = data.blocks[at]
    return BlockInspections(
        kind=data.class_index[block.inspection],
        measurer=np.asarray(pd.factorize(data.inspections["measurer"])[0], dtype=np.int64)[block.inspection],
        step_um=data.inspections["step_um"].to_numpy(dtype=float)[block.inspection],
        group=data.units["group"].to_numpy(dtype=object)[block.unit],
    )


@pytest.fixture(scope="module")
def data() -> WidthData:
    data = layout(crossed_readings(5), splines=4, stations=3)
    groups = np.where(np.arange(len(data.units)) % 2 == 0, "even", "odd")
    # steps too fine to be coarse, but not nothing
    return dataclasses.replace(
        data, units=data.units.assign(group=groups), inspections=data.inspections.assign(step_um=1.0)
    )


@pytest.fixture(scope="module")
def fit(data: WidthData) -> WidthFit:
    # of a large fleet nothing is integrated over
    return dataclasses.replace(fit_widths(data, intervals=False), weighed=None)


@pytest.mark.parametrize("marked", ["all", "some"])
@pytest.mark.parametrize("tied", [True, False])
def test_mean_widths_are_those_of_the_maps(data: WidthData, fit: WidthFit, marked: str, tied: bool) -> None:
    if marked == "some":
        data = _partly_marked(data)
        assert any(block.has_averages for block in data.blocks)
    if not tied:
        kept = ~fit.means["name"].str.startswith("class:").to_numpy()
        fit = cautious(fit)
        fit = dataclasses.replace(
            fit, means=fit.means[kept].reset_index(drop=True), mean_covariance=fit.mean_covariance[np.ix_(kept, kept)]
        )
    alone = read_alone(fit, data, {"P": mean_weights(data.blocks[0].shape)}).set_index("unit")
    for at, prediction in enumerate(predict_maps(fit, data)):
        levels = unit_levels(fit, data.blocks[at], _told_by(data, at))
        average = np.full(prediction.shape.places, 1 / prediction.shape.places)
        variance = np.einsum("i,uij,j->u", average, prediction.covariance_um2, average)
        np.testing.assert_allclose(levels.predicted_um, prediction.mean_um @ average, atol=1e-8)
        np.testing.assert_allclose(levels.predicted_sd_um, np.sqrt(variance), rtol=1e-8)
        read = alone.reindex(prediction.unit)
        np.testing.assert_allclose(levels.read_um, read["value_um"].to_numpy(), atol=1e-4)
        np.testing.assert_allclose(levels.read_sd_um, read["sd_um"].to_numpy(), rtol=1e-5)


def test_readings_of_one_station_do_not_tell_the_mean(data: WidthData, fit: WidthFit) -> None:
    block = data.blocks[0]
    count = np.zeros_like(block.count)
    levels = unit_levels(fit, dataclasses.replace(block, count=count), _told_by(data, 0))
    assert np.isnan(levels.read_um).all()
    assert np.isfinite(levels.predicted_um).all()


def test_coarse_steps_widen_the_doubt_of_a_mean_by_what_their_errors_share(data: WidthData, fit: WidthFit) -> None:
    # independent computation: errors of rounding simulated for a whole inspection at once
    rng = np.random.default_rng(3)
    block = next(block for block in data.blocks if block.inspection.shape[1] == 1)
    every = np.where(np.arange(block.shape.slots) < block.shape.places, 1.0, 0.0)
    full = dataclasses.replace(block, count=np.broadcast_to(every, block.count.shape))
    by = _told_by(data, data.blocks.index(block))
    fine, coarse = (
        unit_levels(fit, full, dataclasses.replace(by, step_um=np.full(block.inspection.shape, step)))
        for step in (1e-3, 25.4)
    )
    apart = sum(fit.variances[COMPONENTS.index(name)] for name in ("spline", "cell"))
    apart = apart + fit.variances[COMPONENTS.index("repeatability_home") + data.class_index[block.inspection[:, 0]]]
    for unit, scatter in enumerate(np.sqrt(apart)):
        true = rng.uniform(0, 25.4, (40_000, 1)) + rng.normal(0, scatter, (40_000, block.shape.places))
        error = (np.round(true / 25.4) * 25.4 - true).mean(axis=1)
        added = coarse.read_sd_um[unit] ** 2 - fine.read_sd_um[unit] ** 2
        assert added == pytest.approx(float(error.var()), rel=0.1)
