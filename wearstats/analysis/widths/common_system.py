"""What couples the units: their own columns in the small system solved for all of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.widths.absorption import Absorbed
from wearstats.analysis.widths.components import OwnColumns
from wearstats.domain.arrays import FloatArray, IntArray


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
    own: list[OwnColumns]  # with measurers' columns scaled by their SD
    inverse: FloatArray  # (columns, columns)
    coefficients: FloatArray  # (columns,)
    criterion: float


def add_up(size: int, terms: Iterable[tuple[IntArray, FloatArray]]) -> FloatArray:
    """Sum numbers by where they belong, shape (size,): of several places and numbers, in order."""
    where, what = zip(*terms, strict=True)
    return np.bincount(np.concatenate(where), np.concatenate(what), minlength=size).astype(float)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockTerms:
    """A block's terms of the score."""

    traces: FloatArray  # (13,), without those of the measurers
    squares: FloatArray  # (13,), of map and repeatability
    residual: FloatArray  # P y, (units, inspections, slots)
    measurers: FloatArray  # (all measurers,): their traces
    rows: tuple[IntArray, FloatArray]  # solved common columns by shared measurer x column, where and what
