"""The parts of a width reading: the components' names, a width map's covariance, and what couples the shafts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pandas as pd

from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthData
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

MAP_COMPONENTS = ("shaft", "spline", "shaft_station", "cell")
COMPONENTS = (
    *MAP_COMPONENTS,
    *(f"measurer_{name}" for name in CLASSES),
    *(f"inspection_{name}" for name in CLASSES),
    *(f"repeatability_{name}" for name in CLASSES),
)
"""Order of the variances in every array of them, each in um^2."""


def map_covariances(shape: PatternShape) -> FloatArray:
    """Covariance of a unit's slots per unit variance of each map component, shape (4, slots, slots)."""
    stations = len(shape.stations)
    over_places = _place_covariances(shape.splines, stations)
    spread = shape.extension()
    return np.asarray(spread @ over_places @ spread.T)


@lru_cache
def _place_covariances(splines: int, stations: int) -> FloatArray:
    spline = np.kron(np.eye(splines), np.ones((stations, stations)))
    station = np.kron(np.ones((splines, splines)), np.eye(stations))
    made = np.stack([np.ones_like(spline), spline, station, np.eye(splines * stations)])
    made.flags.writeable = False
    return made


def map_factor(shape: PatternShape, variances: FloatArray) -> FloatArray:
    """Square root of the map's covariance, shape (slots, places).

    On the full grid the four components share the eigenvectors of averaging over splines and over stations, so the
    factor is exact and exists for zero components too.
    """
    stations = len(shape.stations)
    shaft, spline, station, cell = variances[: len(MAP_COMPONENTS)]
    over_splines, over_stations = _averaging_basis(shape.splines), _averaging_basis(stations)
    roots = np.full((shape.splines, stations), cell)
    roots[:, 0] += stations * spline
    roots[0, :] += shape.splines * station
    roots[0, 0] += shape.splines * stations * shaft
    basis = np.kron(over_splines, over_stations)
    return np.asarray(shape.extension() @ (basis * np.sqrt(roots.ravel())))


@lru_cache
def _averaging_basis(size: int) -> FloatArray:
    """Orthogonal basis whose first vector is constant, shape (size, size)."""
    start = np.eye(size)
    start[:, 0] = 1.0
    q, r = np.linalg.qr(start)
    made = q * np.sign(np.diag(r))
    made.flags.writeable = False
    return np.asarray(made)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnColumns:
    """Which of the common columns a block's own columns (stations, then inspections of every unit) are.

    Parameters
    ----------
    column : ndarray of int, shape (units, own, 2)
        At most two each: a station's mean and its group's, the mean bias of a class and its measurer's.
    value : ndarray, shape (units, own, 2)
        What they enter with; 0 where there is none.
    common : int
        How many common columns there are.
    """

    column: IntArray
    value: FloatArray
    common: int

    def scaled(self, scale: FloatArray) -> OwnColumns:
        """Give them with the common columns in other units, shape (common,)."""
        return replace(self, value=self.value * scale[self.column])

    def spread(self, coefficients: FloatArray) -> FloatArray:
        """Give each own column its share of the common ones, shape (units, own)."""
        return np.asarray((self.value * coefficients[self.column]).sum(axis=2))

    def collect(self, local: FloatArray) -> FloatArray:
        """Sum rows of the own columns, shape (units, own, k), into the common ones, shape (common, k)."""
        k = local.shape[-1]
        where = (self.column[..., None] * k + np.arange(k)).ravel()
        what = (self.value[..., None] * local[:, :, None, :]).ravel()
        return np.bincount(where, what, minlength=self.common * k).reshape(self.common, k).astype(float)

    def pairs(self, local: FloatArray) -> tuple[IntArray, FloatArray]:
        """Say where the units' matrices, shape (units, own, own), belong in the common one, row after row, and what."""
        where = self.column[:, :, None, :, None] * self.common + self.column[:, None, :, None, :]
        return where.ravel(), (local[..., None, None] * self._both()).ravel()

    def part_of(self, inverse: FloatArray) -> FloatArray:
        """Covariance of each unit's own columns under the common system, shape (units, own, own)."""
        picked = inverse[self.column[:, :, None, :, None], self.column[:, None, :, None, :]]
        return np.asarray((picked * self._both()).sum(axis=(3, 4)))

    def rows_of(self, who: IntArray, rows: FloatArray) -> tuple[IntArray, FloatArray]:
        """Say where rows over units' own columns belong in one row of common columns for each of some people.

        Parameters
        ----------
        who : ndarray of int, shape (units, n)
            Whose row each is; -1: nobody's.
        rows : ndarray, shape (units, n, own)
            The rows.
        """
        unit, n = np.nonzero(who >= 0)
        where = who[unit, n][:, None, None] * self.common + self.column[unit]
        return where.ravel(), (rows[unit, n][..., None] * self.value[unit]).ravel()

    def _both(self) -> FloatArray:
        return np.asarray(self.value[:, :, None, :, None] * self.value[:, None, :, None, :])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coupling:
    """What links the units: the columns of the common system.

    Parameters
    ----------
    fixed : tuple of str
        Names of the unpenalised columns: ``station:D8:middle``, ``class:home``, ``group:daily``.
    measurers : tuple of str
        Measurers of more than one unit, in the order of their columns after the fixed ones.
    measurer_class : ndarray of int, shape (measurers,)
        Index into `CLASSES` of each.
    own : tuple of OwnColumns, one a block
        Which common columns a unit's own are; measurers enter with 1, to be scaled by their SD.
    local : ndarray of bool, shape (inspections,)
        Inspections of measurers of a single unit; their bias is integrated out with that unit's own.
    """

    fixed: tuple[str, ...]
    measurers: tuple[str, ...]
    measurer_class: IntArray
    own: tuple[OwnColumns, ...]
    local: BoolArray


def couple(data: WidthData, *, groups: tuple[str, ...] = (), classes: tuple[str, ...] = ()) -> Coupling:
    """Lay out the common system.

    Parameters
    ----------
    data : WidthData
        The readings, reduced.
    groups : tuple of str
        Values of the unit table's ``group`` that get a mean of their own; all others share the station means.
    classes : tuple of str
        Classes that get a mean bias against the rest.

    Returns
    -------
    Coupling
    """
    inspections = data.inspections
    codes = inspections["measurer"].astype("category")
    people = len(codes.cat.categories)
    met = pd.DataFrame({"who": codes.cat.codes.to_numpy(), "unit": inspections["unit"].to_numpy()}).drop_duplicates()
    repeated = np.flatnonzero(np.bincount(met["who"].to_numpy(dtype=np.int64), minlength=people) > 1)
    column_of = np.full(people, -1)
    fixed: list[str] = []
    for shape in {block.shape.pattern: block.shape for block in data.blocks}.values():
        fixed += [f"station:{shape.pattern}:{station}" for station in shape.stations]
    fixed += [f"group:{name}" for name in groups] + [f"class:{name}" for name in classes]
    position = {name: k for k, name in enumerate(fixed)}
    column_of[repeated] = len(fixed) + np.arange(repeated.size)
    who = column_of[codes.cat.codes.to_numpy()]
    class_column = np.array([position.get(f"class:{name}", -1) for name in CLASSES])[data.class_index]
    group_column = np.array([position.get(f"group:{name}", -1) for name in data.units["group"]])
    own = []
    for block in data.blocks:
        units, size = block.inspection.shape
        stations = [position[f"station:{block.shape.pattern}:{station}"] for station in block.shape.stations]
        column = np.full((units, len(stations) + size, 2), -1)
        column[:, : len(stations), 0] = stations
        # a group's mean is a width, so the check piece does not share it
        column[:, : len(stations), 1] = group_column[block.unit][:, None]
        column[:, len(stations) :, 0] = class_column[block.inspection]
        column[:, len(stations) :, 1] = who[block.inspection]
        own.append(
            OwnColumns(
                column=np.maximum(column, 0), value=(column >= 0).astype(float), common=len(fixed) + repeated.size
            )
        )
    class_of = np.zeros(people, dtype=np.int64)
    class_of[codes.cat.codes.to_numpy()] = data.class_index
    return Coupling(
        fixed=tuple(fixed),
        measurers=tuple(str(name) for name in codes.cat.categories[repeated]),
        measurer_class=class_of[repeated],
        own=tuple(own),
        local=who < 0,
    )
