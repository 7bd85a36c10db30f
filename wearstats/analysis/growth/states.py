"""The mean wear of shafts between hubs, as measured: least squares means with the covariance of their errors.

All inspections of a shaft go in at once. The unevenness of its map (splines, hollows, places) stays with the shaft
while it wears, so places that were left out on one day are made up for by those of another; the shaft's mean in each
state is free, so nothing is drawn towards other shafts. A bias that one person has on a shaft is the same before and
after, and cancels from what was lost in between; one that a person has on several shafts couples these.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.widths.components import MAP_COMPONENTS, map_factor
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthBlock, WidthData
from wearstats.analysis.widths.fitted import CLASS_MEAN_SD_UM, WidthFit
from wearstats.domain.arrays import FloatArray

_MEASURER = len(MAP_COMPONENTS)
_INSPECTION = _MEASURER + len(CLASSES)
_REPEATABILITY = _INSPECTION + len(CLASSES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredStates:
    """Mean wear of every shaft in every state; a row is a shaft, padded to the most states that any has.

    Parameters
    ----------
    unit : ndarray of int, shape (shafts,)
        Row of each shaft in the unit table of the data.
    seen : ndarray of bool, shape (shafts, states)
        Which states were measured.
    wear_um : ndarray, shape (shafts, states)
        Mean over all places, positive: metal lost; 0 where not seen.
    own_error_um2 : ndarray, shape (shafts, states, states)
        Covariance of the errors that no other shaft shares.
    shared_error_um : ndarray, shape (shafts, states, shared)
        How the states hang on standard normal errors that shafts share: means of the width model, and measurers of
        several shafts.
    """

    unit: NDArray[np.int64]
    seen: NDArray[np.bool_]
    wear_um: FloatArray
    own_error_um2: FloatArray
    shared_error_um: FloatArray


def measure_states(fit: WidthFit, data: WidthData, state: pd.Series) -> MeasuredStates:
    """Estimate the mean wear of every state.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        Readings whose *units* are whole shafts, all their inspections together.
    state : Series of int
        Number of the state in which each inspection found its shaft, from 0, by the inspection's name.

    Returns
    -------
    MeasuredStates

    Notes
    -----
    Generalised least squares at the fitted components; their own errors are not in the covariance.
    """
    number = data.inspections["inspection"].map(state).to_numpy(dtype=np.int64)
    most = int(number.max(initial=-1)) + 1
    shared = _Shared(fit, data)
    parts = [_measure_block(fit, data, block, number, most, shared) for block in data.blocks]
    order = np.argsort(np.concatenate([block.unit for block in data.blocks]), kind="stable")
    seen, wear, own, common = (np.concatenate(list(group))[order] for group in zip(*parts, strict=True))
    return MeasuredStates(
        unit=np.sort(np.concatenate([block.unit for block in data.blocks])),
        seen=seen.astype(bool),
        wear_um=wear,
        own_error_um2=own,
        shared_error_um=common,
    )


class _Shared:
    """What shafts share: the columns of `MeasuredStates.shared_error_um`."""

    def __init__(self, fit: WidthFit, data: WidthData) -> None:
        names = list(fit.means["name"])
        self.names = names
        self.means_um = fit.means["value_um"].to_numpy(dtype=float)
        values, vectors = np.linalg.eigh(fit.mean_covariance)
        self.mean_factor = vectors * np.sqrt(np.maximum(values, 0.0))
        self.untied = [name for name in CLASSES if f"class:{name}" not in names and CLASS_MEAN_SD_UM[name] > 0]
        self.who = data.inspections["measurer"].astype("category").cat.codes.to_numpy(dtype=np.int64)
        shafts = data.inspections.groupby("measurer")["unit"].nunique().sort_index()
        several = np.flatnonzero(shafts.to_numpy() > 1)
        self.column = np.full(len(shafts), -1)
        self.column[several] = np.arange(several.size)
        self.measurers = int(several.size)

    def mean_rows(self, shape: PatternShape, kinds: NDArray[np.int64]) -> FloatArray:
        """How each reading hangs on the fitted means, shape (units, inspections, slots, means).

        Of the stations only how they differ from their mean counts: that one is the shaft's wear itself.
        """
        rows = np.zeros((*kinds.shape, shape.slots, len(self.names)))
        design = shape.station_design()
        design = design - design.mean(axis=1, keepdims=True)
        for j, station in enumerate(shape.stations):
            label = f"station:{shape.pattern}:{station}"
            if label in self.names:
                rows[..., self.names.index(label)] = design[:, j]
        for k, name in enumerate(CLASSES):
            label = f"class:{name}"
            if label in self.names:
                rows[..., self.names.index(label)] = (kinds == k)[..., None]
        return rows


def _measure_block(
    fit: WidthFit, data: WidthData, block: WidthBlock, number: NDArray[np.int64], most: int, shared: _Shared
) -> tuple[NDArray[np.bool_], FloatArray, FloatArray, FloatArray]:
    """Seen, wear, own and shared errors of a block's shafts."""
    units, inspections, slots = block.count.shape
    shape = block.shape
    kinds = data.class_index[block.inspection]
    steps = data.inspections["step_um"].to_numpy(dtype=float)[block.inspection]
    who = shared.who[block.inspection]
    read = (block.count > 0).reshape(units, -1)
    places = map_factor(shape, fit.variances)[: shape.places]
    uneven = shape.extension() @ (places - places.mean(axis=0))
    covariance = np.tile(uneven @ uneven.T, (units, inspections, inspections))
    bias = np.where(who[:, :, None] == who[:, None, :], fit.variances[_MEASURER + kinds][:, :, None], 0.0)
    diagonal = np.arange(inspections)
    bias[:, diagonal, diagonal] += fit.variances[_INSPECTION + kinds]
    covariance += np.repeat(np.repeat(bias, slots, axis=1), slots, axis=2)
    noise = (fit.variances[_REPEATABILITY + kinds] + steps**2 / 12)[..., None] / np.maximum(block.count, 1)
    if block.piece_um2 is not None:
        noise[..., -1] += block.piece_um2
    covariance *= read[:, :, None] & read[:, None, :]
    flat = np.arange(inspections * slots)
    covariance[:, flat, flat] += np.where(read, noise.reshape(units, -1), 1.0)

    which = number[block.inspection]
    rows = shared.mean_rows(shape, kinds)
    response = (block.mean - rows @ shared.means_um).reshape(units, -1)
    on_shaft = shape.extension().sum(axis=1)  # the check piece is no part of the shaft
    design = np.where(which[..., None, None] == np.arange(most), on_shaft[:, None], 0.0)
    design = design.reshape(units, -1, most) * read[..., None]
    seen = (design != 0).any(axis=1)
    weighted = np.linalg.solve(covariance, design)
    system = np.swapaxes(design, 1, 2) @ weighted
    state = np.arange(most)
    system[:, state, state] += ~seen
    inverse = np.linalg.inv(system)
    estimator = inverse @ np.swapaxes(weighted, 1, 2)
    wear = -(estimator @ np.where(read, response, 0.0)[..., None])[..., 0]

    pull = estimator.reshape(units, most, inspections, slots)
    over_slots = pull.sum(axis=3)
    parts = [np.einsum("ujts,utsm->ujm", pull, rows, optimize=True) @ shared.mean_factor]
    for name in shared.untied:
        mine = (kinds == CLASSES.index(name)).astype(float)
        parts.append((CLASS_MEAN_SD_UM[name] * np.einsum("ujt,ut->uj", over_slots, mine))[..., None])
    loads = _measurer_loads(fit, kinds, shared.column[who], over_slots, shared.measurers)
    own = inverse * (seen[:, :, None] & seen[:, None, :]) - loads @ np.swapaxes(loads, 1, 2)
    return seen, np.where(seen, wear, 0.0), own, np.concatenate([*parts, loads], axis=2) * seen[..., None]


def _measurer_loads(
    fit: WidthFit,
    kinds: NDArray[np.int64],
    column: NDArray[np.int64],
    over_slots: FloatArray,
    measurers: int,
) -> FloatArray:
    """How each state hangs on the biases of those who measured several shafts, shape (units, states, measurers)."""
    sd = np.sqrt(fit.variances[_MEASURER + kinds])
    loads = np.zeros((*over_slots.shape[:2], measurers))
    unit, inspection = np.nonzero(column >= 0)
    at = column[unit, inspection]
    np.add.at(
        loads,
        (unit[:, None], np.arange(over_slots.shape[1]), at[:, None]),
        over_slots[unit, :, inspection] * sd[unit, inspection][:, None],
    )
    return loads
