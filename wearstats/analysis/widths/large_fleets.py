"""Mean widths of very many units: what `width_maps` and `shaft_means` say of them, without working out any map.

A sum of widths with the same weights on every spline hangs on the readings through sums over whole stations alone, so
splines and places are integrated out once, and what is left of a unit is as small as its stations and inspections. The
result is the same to the last digits; only readings in steps too coarse for the simple correction are taken as readings
with the rounding errors' correlation added to their inspection's bias, instead of as intervals.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.widths.absorption import plain_gram
from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthBlock
from wearstats.analysis.widths.fitted import CLASS_MEAN_SD_UM, WidthFit, cautious
from wearstats.analysis.widths.interval_readings import COARSE, error_correlation
from wearstats.analysis.widths.shaft_means import ENDLESS_UM2
from wearstats.domain.arrays import FloatArray

_REPEATABILITY = len(COMPONENTS) - len(CLASSES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnitLevels:
    """Mean widths of some units.

    Parameters
    ----------
    predicted_um, predicted_sd_um : ndarray, shape (units,)
        As `wearstats.analysis.widths.prediction.predict_maps` has the mean of the map.
    read_um, read_sd_um : ndarray, shape (units,)
        As `wearstats.analysis.widths.shaft_means.read_alone` has it; NaN where the readings do not tell the mean.
    """

    predicted_um: FloatArray
    predicted_sd_um: FloatArray
    read_um: FloatArray
    read_sd_um: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockInspections:
    """Who measured a block's units.

    Parameters
    ----------
    kind : ndarray of int, shape (units, inspections)
        Index into `CLASSES`.
    measurer : ndarray of int, shape (units, inspections)
        Alike for the same measurer.
    step_um : ndarray, shape (units, inspections)
        Resolution.
    group : ndarray of str, shape (units,)
        What the prior mean hangs on.
    """

    kind: NDArray[np.int64]
    measurer: NDArray[np.int64]
    step_um: FloatArray
    group: NDArray[np.object_]


def unit_levels(fit: WidthFit, block: WidthBlock, by: BlockInspections) -> UnitLevels:
    """Give the mean widths of a block's units, each from its own readings alone.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    block : WidthBlock
        The readings.
    by : BlockInspections
        Who measured.

    Returns
    -------
    UnitLevels
    """
    fit = cautious(fit)
    shape = block.shape
    stations = len(shape.stations)
    repeat = fit.variances[_REPEATABILITY + by.kind]
    reading = (repeat + by.step_um**2 / 12)[..., None]
    if block.piece_um2 is not None:
        reading = np.broadcast_to(reading, block.count.shape).copy()
        reading[..., -1] += block.piece_um2
    gram = plain_gram(block, fit.variances, reading)
    bias = _bias(fit, by, repeat)
    names = list(fit.means["name"])
    values = fit.means["value_um"].to_numpy(dtype=float)
    design = _mean_design(names, shape, by)
    # what the means make of every own column, taken off the readings at once
    gram[..., -1] -= (gram[..., :-1] @ (design @ values)[..., None])[..., 0]
    prior = design[:, :stations] @ values
    own = fit.variances[: len(MAP_COMPONENTS)].copy()
    predicted, predicted_var, hangs = _mean_width(shape, gram, own, bias)
    response = design[:, :stations].mean(axis=1) - (hangs[:, None, :] @ design)[:, 0]
    predicted_var = predicted_var + np.sum((response @ fit.mean_covariance) * response, axis=1)
    own[MAP_COMPONENTS.index("shaft")] = ENDLESS_UM2
    read, read_var, _ = _mean_width(shape, gram, own, bias)
    level = prior.mean(axis=1)
    told = read_var < 0.01 * ENDLESS_UM2
    return UnitLevels(
        predicted_um=level + predicted,
        predicted_sd_um=np.sqrt(np.maximum(predicted_var, 0.0)),
        read_um=np.where(told, level + read, np.nan),
        read_sd_um=np.where(told, np.sqrt(np.maximum(read_var, 0.0)), np.nan),
    )


def _mean_width(
    shape: PatternShape, gram: FloatArray, variances: FloatArray, bias: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Predict the mean width about its prior mean: value, variance, and how it hangs on each own column."""
    stations, own = len(shape.stations), gram.shape[1]
    shaft, spline, station, cell = (float(value) for value in variances)
    prior = np.zeros((gram.shape[0], own, own))
    prior[:, :stations, :stations] = shaft + station * np.eye(stations)
    prior[:, stations:, stations:] = bias
    system = np.eye(own) + gram[..., :-1] @ prior
    # the mean's covariance with any reading of a place, which is its own variance too
    reach = shaft + spline / shape.splines + station / stations + cell / shape.places
    ends = np.zeros((gram.shape[0], own, 1))
    ends[:, :stations] = reach
    # (I + prior K)^-1 of the ends, then K: the row of K - K (prior^-1 + K)^-1 K that the mean takes
    pulled = np.linalg.solve(np.swapaxes(system, 1, 2), ends)
    hangs = (np.swapaxes(pulled, 1, 2) @ gram)[:, 0]
    return hangs[:, -1], reach - reach * hangs[:, :stations].sum(axis=1), hangs[:, :-1]


def _bias(fit: WidthFit, by: BlockInspections, repeat: FloatArray) -> FloatArray:
    """Covariance of the inspections' biases within each unit, um^2, shape (units, inspections, inspections)."""
    own = fit.variances[len(MAP_COMPONENTS) + len(CLASSES) + by.kind] + _shared_rounding(fit, by, repeat)
    shared = fit.variances[len(MAP_COMPONENTS) + by.kind]
    bias = np.where(by.measurer[:, :, None] == by.measurer[:, None, :], shared[:, :, None], 0.0)
    look = np.arange(by.kind.shape[1])
    bias[:, look, look] += own
    tied = set(fit.means["name"])
    loose = np.array([0.0 if f"class:{name}" in tied else CLASS_MEAN_SD_UM[name] ** 2 for name in CLASSES])
    if loose.any():
        bias += np.where(by.kind[:, :, None] == by.kind[:, None, :], loose[by.kind][:, :, None], 0.0)
    return bias


def _shared_rounding(fit: WidthFit, by: BlockInspections, repeat: FloatArray) -> FloatArray:
    """Variance that the rounding errors of an inspection in coarse steps have in common, um^2, shape as `repeat`."""
    shared = np.zeros_like(repeat)
    coarse = by.step_um > COARSE * np.sqrt(repeat)
    if not coarse.any():
        return shared
    apart = repeat + fit.variances[COMPONENTS.index("spline")] + fit.variances[COMPONENTS.index("cell")]
    ratio, where = np.unique(np.sqrt(apart[coarse]) / by.step_um[coarse], return_inverse=True)
    common = np.array([error_correlation(float(each), 1.0) for each in ratio])[where]
    shared[coarse] = common * by.step_um[coarse] ** 2 / 12
    return shared


def _mean_design(names: list[str], shape: PatternShape, by: BlockInspections) -> FloatArray:
    """How every own column hangs on the fitted means, shape (units, own, means)."""
    units, inspections = by.kind.shape
    stations = len(shape.stations)
    design = np.zeros((units, stations + inspections, len(names)))
    for k, name in enumerate(names):
        sort, _, of = name.partition(":")
        if sort == "station":
            pattern, _, station = of.rpartition(":")
            if pattern == shape.pattern:
                design[:, shape.stations.index(station), k] = 1.0
        elif sort == "group":
            design[by.group == of, :stations, k] = 1.0
        else:
            design[:, stations:, k] = by.kind == CLASSES.index(of)
    return design
