"""What readings say of one shaft's width map, with the bias of whoever measured in the doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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
    if len(points) == 1:
        return _predict_by(points[0][1], data)
    weights = [weight for weight, _ in points]
    mixed = []
    for parts in zip(*(_predict_by(fit, data) for _, fit in points), strict=True):
        mean = np.tensordot(weights, np.stack([part.mean_um for part in parts]), axes=1)
        covariance = np.zeros_like(parts[0].covariance_um2)
        for weight, part in zip(weights, parts, strict=True):
            apart = part.mean_um - mean
            covariance += weight * (part.covariance_um2 + apart[:, :, None] * apart[:, None, :])
        mixed.append(replace(parts[0], mean_um=mean, covariance_um2=covariance))
    return tuple(mixed)


def _predict_by(fit: WidthFit, data: WidthData) -> tuple[MapPrediction, ...]:
    """Predict every unit's map by one model, taken as it is."""
    classes = data.class_index
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    measurer = data.inspections["measurer"].astype("category").cat.codes.to_numpy()
    repeat = len(MAP_COMPONENTS) + 2 * len(CLASSES)
    reading = fit.variances[repeat + classes] + steps**2 / 12
    class_means, class_rows = _class_means(fit)
    predictions = []
    for block in data.blocks:
        prior_mean, prior_rows = _prior_means(fit, block.shape, data.units["group"].to_numpy(dtype=object)[block.unit])
        factor = map_factor(block.shape, fit.variances)
        if block.rounding is None:
            weight = block.count / reading[block.inspection][..., None]
        else:
            weight = block.count / (fit.variances[repeat + classes][block.inspection][..., None] + block.rounding)
        kinds = classes[block.inspection]
        size = kinds.shape[1]
        bias = _bias_covariance(fit, measurer[block.inspection], kinds)
        offset = class_means[kinds]
        wy = weight * (block.mean - prior_mean[:, None, :] - offset[..., None])
        # units measured alike have the same errors, whatever was read
        one, like = _measured_alike(weight, bias, kinds, prior_rows)
        weight, bias, kinds, prior_rows = weight[one], bias[one], kinds[one], prior_rows[one]
        middle = bias @ np.linalg.inv(np.eye(size) + weight.sum(axis=2)[:, :, None] * bias)
        pull = np.einsum("utc,uts->usc", weight, middle, optimize=True)
        right = wy.sum(axis=1) - np.einsum("usc,us->uc", pull[like], wy.sum(axis=2), optimize=True)
        precision = -np.einsum("utc,uts,usd->ucd", weight, middle, weight, optimize=True)
        slot = np.arange(block.shape.slots)
        precision[:, slot, slot] += weight.sum(axis=1)
        inner = factor.T @ precision @ factor
        place = np.arange(inner.shape[1])
        inner[:, place, place] += 1.0
        posterior = factor @ np.linalg.inv(inner) @ factor.T
        places = slice(0, block.shape.places)
        mean = prior_mean + np.einsum("ucd,ud->uc", posterior[like], right)
        design = _mean_response(block.shape, prior_rows, class_rows, kinds, weight, middle, precision, posterior)
        covariance = posterior + design @ fit.mean_covariance @ np.swapaxes(design, 1, 2)
        predictions.append(
            MapPrediction(
                shape=block.shape,
                unit=block.unit,
                mean_um=np.ascontiguousarray(mean[:, places]),
                covariance_um2=np.ascontiguousarray(covariance[:, places, places])[like],
            )
        )
    return tuple(predictions)


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
    class_means, _ = _class_means(fit)

    def prior(block: WidthBlock) -> tuple[FloatArray, FloatArray]:
        mean, _ = _prior_means(fit, block.shape, data.units["group"].to_numpy(dtype=object)[block.unit])
        kinds = classes[block.inspection]
        level = mean[:, None, :] + class_means[kinds][..., None]
        return level, _bias_covariance(fit, measurer[block.inspection], kinds)

    return place_sites(without_coarse_within(data, fit.variances), fit.variances, prior, coarse)


def _bias_covariance(fit: WidthFit, who: NDArray[np.integer], kinds: NDArray[np.int64]) -> FloatArray:
    """Covariance of the inspections' biases within each unit, um^2, shape (units, inspections, inspections)."""
    own = fit.variances[len(MAP_COMPONENTS) + len(CLASSES) + kinds]
    shared = fit.variances[len(MAP_COMPONENTS) + kinds]
    bias = np.where(who[:, :, None] == who[:, None, :], shared[:, :, None], 0.0)
    diagonal = np.arange(who.shape[1])
    bias[:, diagonal, diagonal] += own
    # a class whose mean was not tied to the workshop carries that doubt in common
    _, class_rows = _class_means(fit)
    loose = np.array([CLASS_MEAN_SD_UM[name] ** 2 if class_rows[name] is None else 0.0 for name in CLASSES])
    bias += np.where(kinds[:, :, None] == kinds[:, None, :], loose[kinds][:, :, None], 0.0)
    return bias


def _class_means(fit: WidthFit) -> tuple[FloatArray, dict[str, int | None]]:
    """Mean bias of each class, shape (3,), and its row among the means (None: not estimated)."""
    names = list(fit.means["name"])
    rows: dict[str, int | None] = {}
    for name in CLASSES:
        label = f"class:{name}"
        rows[name] = names.index(label) if label in names else None
    values = fit.means["value_um"].to_numpy(dtype=float)
    return np.array([0.0 if rows[name] is None else values[rows[name]] for name in CLASSES]), rows


def _prior_means(
    fit: WidthFit, shape: PatternShape, groups: np.ndarray[tuple[int], np.dtype[np.object_]]
) -> tuple[FloatArray, FloatArray]:
    """Prior mean of every slot, shape (units, slots), and how it hangs on the means, shape (units, stations, means)."""
    names = list(fit.means["name"])
    values = fit.means["value_um"].to_numpy(dtype=float)
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
    return (rows @ values) @ shape.station_design().T, rows


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
    """How the prediction error hangs on the errors of the means, shape (units, slots, means)."""
    slot_rows = shape.station_design() @ prior_rows
    response = slot_rows - posterior @ (precision @ slot_rows)
    bias_pull = np.swapaxes(weight, 1, 2) @ (np.eye(kinds.shape[1]) - middle * weight.sum(axis=2)[:, None, :])
    bias_response = posterior @ bias_pull
    for k, name in enumerate(CLASSES):
        row = class_rows[name]
        if row is not None:
            response[..., row] -= np.einsum("uct,ut->uc", bias_response, (kinds == k).astype(float))
    return response
