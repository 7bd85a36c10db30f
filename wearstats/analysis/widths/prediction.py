"""What readings say of one shaft's width map, with the bias of whoever measured in the doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.widths.components import MAP_COMPONENTS, map_factor
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthBlock, WidthData
from wearstats.analysis.widths.fitted import CLASS_MEAN_SD_UM, WidthFit, cautious, spread_points
from wearstats.analysis.widths.interval_readings import coarse_inspections, place_sites, without_coarse_within
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapPrediction:
    """What is known of the width maps of some units of one pattern.

    Parameters
    ----------
    shape : PatternShape
        The pattern.
    unit : ndarray of int, shape (units,)
        Row of each unit in the unit table of the data predicted from.
    mean_um : ndarray, shape (units, places)
        Best linear prediction of the true widths relative to the new width (negative: worn).
    covariance_um2 : ndarray, shape (units, places, places)
        Of its errors, with the bias of the measurers in it.
    """

    shape: PatternShape
    unit: np.ndarray[tuple[int], np.dtype[np.int64]]
    mean_um: FloatArray
    covariance_um2: FloatArray

    @property
    def sd_um(self) -> FloatArray:
        """Standard deviation of each place's error, shape (units, places)."""
        return np.sqrt(np.maximum(np.diagonal(self.covariance_um2, axis1=1, axis2=2), 0.0))


def predict_maps(fit: WidthFit, data: WidthData) -> tuple[MapPrediction, ...]:
    """Predict the width map of every unit from its own readings alone.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        The units to predict; they need not be those that were fitted, and each speaks only for itself: what is known of
        a shaft on one day never borrows from readings of another shaft by the same hand, taken perhaps later.

    Returns
    -------
    tuple of MapPrediction
        One a block of `data`.

    Notes
    -----
    Best linear unbiased prediction (Henderson 1975); the error of the means is included, and biases whose spread is
    badly told are taken for as doubtful as they are (`wearstats.analysis.widths.fitted.cautious`). Of few shafts the
    spreads are integrated over: mean and covariance are those of the mixture of what is predicted at each point
    (`wearstats.analysis.widths.fitted.spread_points`).
    """
    return predict_over(spread_points(fit), with_sites(cautious(fit), data))


def predict_over(points: Sequence[tuple[float, WidthFit]], data: WidthData) -> tuple[MapPrediction, ...]:
    """Predict by several models, and give the mean and the covariance of their mixture.

    Parameters
    ----------
    points : sequence of (float, WidthFit)
        Weights, which add up to 1, and models, taken as they are.
    data : WidthData
        The units to predict, coarse readings as intervals.

    Returns
    -------
    tuple of MapPrediction
        One a block of `data`.
    """
    stack = _Stack.of(points)
    classes = data.class_index
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    measurer = data.inspections["measurer"].astype("category").cat.codes.to_numpy()
    repeat = stack.variances[:, len(MAP_COMPONENTS) + 2 * len(CLASSES) + classes]
    predictions = []
    for block in data.blocks:
        groups = data.units["group"].to_numpy(dtype=object)[block.unit]
        prior_rows = _prior_rows(stack.names, block.shape, groups)
        prior_mean = stack.prior_means(block.shape, prior_rows)
        factor = np.stack([map_factor(block.shape, each) for each in stack.variances])[:, None]
        weight = block.count / (repeat[:, block.inspection][..., None] + block.besides_repeatability(steps))
        kinds = classes[block.inspection]
        size = kinds.shape[1]
        bias = stack.bias_covariance(measurer[block.inspection], kinds)
        wy = weight * (block.mean - prior_mean[:, :, None, :] - stack.class_means[:, kinds][..., None])
        # units measured alike have the same errors, whatever was read
        one, like = _measured_alike(weight[0], bias[0], kinds, prior_rows)
        weight, bias, kinds, prior_rows = weight[:, one], bias[:, one], kinds[one], prior_rows[one]
        middle = bias @ np.linalg.inv(np.eye(size) + weight.sum(axis=3)[..., None] * bias)
        pull = np.swapaxes(middle, 2, 3) @ weight
        right = wy.sum(axis=2) - (wy.sum(axis=3)[:, :, None, :] @ pull[:, like])[:, :, 0]
        precision = -(np.swapaxes(pull, 2, 3) @ weight)
        slot = np.arange(block.shape.slots)
        precision[..., slot, slot] += weight.sum(axis=2)
        across = np.swapaxes(factor, 2, 3)
        inner = across @ precision @ factor
        place = np.arange(inner.shape[2])
        inner[..., place, place] += 1.0
        posterior = factor @ np.linalg.inv(inner) @ across
        mean = prior_mean + (posterior[:, like] @ right[..., None])[..., 0]
        design = _mean_response(block.shape, prior_rows, stack.class_rows, kinds, weight, middle, precision, posterior)
        covariance = posterior + design @ stack.mean_covariance[:, None] @ np.swapaxes(design, 2, 3)
        places = slice(0, block.shape.places)
        mixed, spread = stack.mix(mean[..., places], covariance[..., places, places], like)
        predictions.append(MapPrediction(shape=block.shape, unit=block.unit, mean_um=mixed, covariance_um2=spread))
    return tuple(predictions)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stack:
    """Models of the same means, one on the other."""

    weights: FloatArray  # (points,)
    names: list[str]
    variances: FloatArray  # (points, 13)
    means: FloatArray  # (points, means)
    mean_covariance: FloatArray  # (points, means, means)
    class_rows: dict[str, int | None]  # row of each class's mean bias among the means; None: not estimated
    class_means: FloatArray  # (points, 3)

    @classmethod
    def of(cls, points: Sequence[tuple[float, WidthFit]]) -> _Stack:
        names = list(points[0][1].means["name"])
        means = np.stack([fit.means["value_um"].to_numpy(dtype=float) for _, fit in points])
        rows = {name: names.index(f"class:{name}") if f"class:{name}" in names else None for name in CLASSES}
        none = np.zeros(len(points))
        return cls(
            weights=np.array([weight for weight, _ in points]),
            names=names,
            variances=np.stack([fit.variances for _, fit in points]),
            means=means,
            mean_covariance=np.stack([fit.mean_covariance for _, fit in points]),
            class_rows=rows,
            class_means=np.stack([none if (row := rows[name]) is None else means[:, row] for name in CLASSES], axis=1),
        )

    def prior_means(self, shape: PatternShape, rows: FloatArray) -> FloatArray:
        """Prior mean of every slot, shape (points, units, slots)."""
        return np.asarray(np.moveaxis(rows @ self.means.T, -1, 0) @ shape.station_design().T)

    def bias_covariance(self, who: NDArray[np.integer], kinds: NDArray[np.int64]) -> FloatArray:
        """Covariance of the inspections' biases in each unit, um^2, shape (points, units, inspections, inspections)."""
        own = self.variances[:, len(MAP_COMPONENTS) + len(CLASSES) + kinds]
        shared = self.variances[:, len(MAP_COMPONENTS) + kinds]
        bias = np.where(who[:, :, None] == who[:, None, :], shared[..., None], 0.0)
        look = np.arange(who.shape[1])
        bias[..., look, look] += own
        # a class whose mean was not tied to the workshop carries that doubt in common
        loose = np.array([CLASS_MEAN_SD_UM[name] ** 2 if self.class_rows[name] is None else 0.0 for name in CLASSES])
        return bias + np.where(kinds[:, :, None] == kinds[:, None, :], loose[kinds][:, :, None], 0.0)

    def mix(self, mean: FloatArray, covariance: FloatArray, like: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
        """Mean and covariance of the points' mixture; `covariance` by sort of unit, and which sort each unit is."""
        if self.weights.size == 1:
            return np.ascontiguousarray(mean[0]), np.ascontiguousarray(covariance[0])[like]
        middle = np.tensordot(self.weights, mean, axes=1)
        apart = (mean - middle) * np.sqrt(self.weights)[:, None, None]
        between = np.einsum("kuc,kud->ucd", apart, apart, optimize=True)
        return middle, np.tensordot(self.weights, covariance, axes=1)[like] + between


def _measured_alike(*parts: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Find units that differ in any part, shape (units, ...): a row of each sort, and of which sort each unit is."""
    rows = np.ascontiguousarray(np.concatenate([part.reshape(len(part), -1) for part in parts], axis=1), dtype=float)
    as_one = rows.view(np.dtype((np.void, rows.dtype.itemsize * rows.shape[1])))[:, 0]
    _, one, like = np.unique(as_one, return_index=True, return_inverse=True)
    return one, like


def with_sites(fit: WidthFit, data: WidthData) -> WidthData:
    """Take coarsely rounded readings as intervals, each unit's by its own readings alone.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        The readings as shown.

    Returns
    -------
    WidthData
        The same object where no inspection is coarse at these components.
    """
    coarse = coarse_inspections(data, fit.variances)
    if not coarse.any():
        return data
    classes = data.class_index
    measurer = data.inspections["measurer"].astype("category").cat.codes.to_numpy()
    stack = _Stack.of([(1.0, fit)])

    def prior(block: WidthBlock) -> tuple[FloatArray, FloatArray]:
        rows = _prior_rows(stack.names, block.shape, data.units["group"].to_numpy(dtype=object)[block.unit])
        kinds = classes[block.inspection]
        level = stack.prior_means(block.shape, rows)[0][:, None, :] + stack.class_means[0][kinds][..., None]
        return level, stack.bias_covariance(measurer[block.inspection], kinds)[0]

    return place_sites(without_coarse_within(data, fit.variances), fit.variances, prior, coarse)


def _prior_rows(
    names: list[str], shape: PatternShape, groups: np.ndarray[tuple[int], np.dtype[np.object_]]
) -> FloatArray:
    """How the prior means of the stations hang on the fitted means, shape (units, stations, means)."""
    rows = np.zeros((groups.size, len(shape.stations), len(names)))
    for j, station in enumerate(shape.stations):
        label = f"station:{shape.pattern}:{station}"
        if label not in names:
            raise AnalysisError(
                f"no reading of pattern {shape.pattern} at station {station} was fitted",
                needed="readings of at least one shaft of that pattern at every station",
            )
        rows[:, j, names.index(label)] = 1.0
    for k, name in enumerate(names):
        if name.startswith("group:"):
            rows[groups == name.removeprefix("group:"), :, k] = 1.0
    return rows


def _mean_response(
    shape: PatternShape,
    prior_rows: FloatArray,
    class_rows: dict[str, int | None],
    kinds: np.ndarray[tuple[int, int], np.dtype[np.int64]],
    weight: FloatArray,
    middle: FloatArray,
    precision: FloatArray,
    posterior: FloatArray,
) -> FloatArray:
    """How the prediction error hangs on the errors of the means, shape (points, units, slots, means)."""
    slot_rows = shape.station_design() @ prior_rows
    response = slot_rows - posterior @ (precision @ slot_rows)
    free = np.eye(kinds.shape[1]) - middle * weight.sum(axis=3)[:, :, None, :]
    bias_response = posterior @ (np.swapaxes(weight, 2, 3) @ free)
    for k, name in enumerate(CLASSES):
        row = class_rows[name]
        if row is not None:
            response[..., row] -= (bias_response @ (kinds == k).astype(float)[:, :, None])[..., 0]
    return response
