"""What couples the units: their own columns in the small system solved for all of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from wearstats.analysis.widths.absorption import Absorbed
from wearstats.domain.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """The common system solved at one set of variances.

    Parameters
    ----------
    coefficients : ndarray, shape (columns,)
        Means of the fixed columns, then biases of measurers of several units, in units of their SD.
    covariance : ndarray, shape (columns, columns)
        Of their errors.
    measurer_bias_um, measurer_sd_um : ndarray, shape (measurers,)
        Predicted bias of every measurer, in the order of `WidthLikelihood.measurers`, and the SD of its error.
    """

    coefficients: FloatArray
    covariance: FloatArray
    measurer_bias_um: FloatArray
    measurer_sd_um: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Eliminated:
    """All integrated out at one set of variances, before any slope."""

    parts: list[Absorbed]
    scatters: list[sp.csr_array]  # with measurers' columns scaled by their SD
    inverse: FloatArray  # (columns, columns)
    coefficients: FloatArray  # (columns,)
    criterion: float


def own_part(scatter: sp.csr_array, inverse: FloatArray, own: int) -> FloatArray:
    """Covariance of each unit's own columns under the common system, shape (units, own, own)."""
    widest = int(np.diff(scatter.indptr).max(initial=0))
    rows = scatter.shape[0]
    column = np.zeros((rows, widest), dtype=np.int64)
    value = np.zeros((rows, widest))
    entry = np.arange(scatter.indices.size) - np.repeat(scatter.indptr[:-1], np.diff(scatter.indptr))
    row = np.repeat(np.arange(rows), np.diff(scatter.indptr))
    column[row, entry], value[row, entry] = scatter.indices, scatter.data
    column, value = column.reshape(-1, own, widest), value.reshape(-1, own, widest)
    total = np.zeros((column.shape[0], own, own))
    for a in range(widest):
        for b in range(widest):
            pick = inverse[column[:, :, None, a], column[:, None, :, b]]
            total += value[:, :, None, a] * value[:, None, :, b] * pick
    return total


def gather(scatter: sp.csr_array, local: FloatArray) -> sp.csr_array:
    """Sum the units' own matrices into the common one, shape (columns, columns)."""
    units, own, _ = local.shape
    indices = (np.arange(units)[:, None, None] * own + np.arange(own)).repeat(own, axis=1).ravel()
    pointer = np.arange(0, indices.size + 1, own)
    middle = sp.csr_array((local.ravel(), indices, pointer), shape=(units * own, units * own))
    return sp.csr_array(scatter.T @ (middle @ scatter))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockTerms:
    """A block's terms of the score."""

    traces: FloatArray  # (13,), without those of the measurers
    squares: FloatArray  # (13,), of map and repeatability
    residual: FloatArray  # P y, (units, inspections, slots)
    measurers: FloatArray  # (all measurers,): their traces
    rows: sp.csr_array  # (shared measurers, columns)
