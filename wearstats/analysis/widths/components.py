"""The parts of a width reading: the components' names, a width map's covariance, and what couples the shafts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy.sparse as sp

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
    spline = np.kron(np.eye(shape.splines), np.ones((stations, stations)))
    station = np.kron(np.ones((shape.splines, shape.splines)), np.eye(stations))
    over_places = np.stack([np.ones_like(spline), spline, station, np.eye(shape.places)])
    spread = shape.extension()
    return np.asarray(spread @ over_places @ spread.T)


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


def _averaging_basis(size: int) -> FloatArray:
    """Orthogonal basis whose first vector is constant, shape (size, size)."""
    start = np.eye(size)
    start[:, 0] = 1.0
    q, r = np.linalg.qr(start)
    return np.asarray(q * np.sign(np.diag(r)))


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
    scatter : tuple of sparse matrix, one a block, shape (units * (stations + inspections), columns)
        From a unit's own columns to the common ones; measurer entries are 1, to be scaled by their SD.
    local : ndarray of bool, shape (inspections,)
        Inspections of measurers of a single unit; their bias is integrated out with that unit's own.
    """

    fixed: tuple[str, ...]
    measurers: tuple[str, ...]
    measurer_class: IntArray
    scatter: tuple[sp.csr_array, ...]
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
    scatter = []
    for block in data.blocks:
        units, size = block.inspection.shape
        stations = len(block.shape.stations)
        own = stations + size
        base = np.arange(units) * own
        rows, columns = [], []
        for j, station in enumerate(block.shape.stations):
            rows.append(base + j)
            columns.append(np.full(units, position[f"station:{block.shape.pattern}:{station}"]))
        group = group_column[block.unit]
        for j in range(stations):  # a group's mean is a width, so the check piece does not share it
            rows.append(base[group >= 0] + j)
            columns.append(group[group >= 0])
        for t in range(size):
            for source in (class_column[block.inspection[:, t]], who[block.inspection[:, t]]):
                use = source >= 0
                rows.append(base[use] + stations + t)
                columns.append(source[use])
        at = (np.concatenate(rows), np.concatenate(columns))
        shape2 = (units * own, len(fixed) + repeated.size)
        scatter.append(sp.csr_array((np.ones(at[0].size), at), shape=shape2))
    class_of = np.zeros(people, dtype=np.int64)
    class_of[codes.cat.codes.to_numpy()] = data.class_index
    return Coupling(
        fixed=tuple(fixed),
        measurers=tuple(str(name) for name in codes.cat.categories[repeated]),
        measurer_class=class_of[repeated],
        scatter=tuple(scatter),
        local=who < 0,
    )
