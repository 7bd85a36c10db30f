"""What the readings alone say of a shaft's mean width, its hollow and its taper: not drawn towards other shafts.

A prediction is drawn towards the mean of its group as far as it is doubtful. To describe how shafts differ, what was
read must speak for itself: the spread of shafts (and, for the shape along a spline, that of hollows and tapers) is
taken as endless, so that the prior says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthData
from wearstats.analysis.widths.fitted import WidthFit, cautious, spread_points
from wearstats.analysis.widths.prediction import predict_over, with_sites
from wearstats.domain.arrays import FloatArray

ENDLESS_UM2 = 1e6
"""Variance that stands for no knowledge: a standard deviation of 1 mm."""


def mean_weights(shape: PatternShape) -> FloatArray:
    """Weights of the places that give the mean width, shape (places,)."""
    return np.full(shape.places, 1 / shape.places)


def hollow_weights(shape: PatternShape) -> FloatArray:
    """Weights that give how far the inner stations lie below the ends, shape (places,); 0 with fewer than three."""
    stations = len(shape.stations)
    weights = np.zeros(stations)
    if stations > 2:
        weights[[0, -1]] = 0.5
        weights[1:-1] = -1 / (stations - 2)
    return np.tile(weights, shape.splines) / shape.splines


def taper_weights(shape: PatternShape) -> FloatArray:
    """Weights that give how far the nut end lies below the shoulder, shape (places,); zero with a single station."""
    weights = np.zeros(len(shape.stations))
    if len(shape.stations) > 1:
        weights[0], weights[-1] = 1.0, -1.0
    return np.tile(weights, shape.splines) / shape.splines


def read_alone(
    fit: WidthFit,
    data: WidthData,
    weights: Mapping[str, FloatArray],
    *,
    along_spline: bool = False,
    shared: bool = True,
) -> pd.DataFrame:
    """Give a weighted sum of every unit's widths as its own readings have it.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        The units.
    weights : mapping of str to ndarray, shape (places,)
        By pattern.
    along_spline : bool
        Whether the sum compares stations (a hollow, a taper): what is known of other shafts' shape then says nothing
        either.
    shared : bool
        Whether the doubt about the mean bias of a class that nothing ties to the workshop is in the errors; False where
        it is reckoned with once for all shafts (`wearstats.analysis.widths.fitted.shared_sd`).

    Returns
    -------
    DataFrame
        One row a unit that tells it: ``unit`` (row in the unit table), ``shaft``, ``pattern``, ``group``, ``value_um``,
        ``sd_um`` of its error, the bias of whoever measured within it but not the error of the means.
    """
    ends = ("shaft", "shaft_station") if along_spline else ("shaft",)
    points = [(weight, _vague(point, ends, shared=shared)) for weight, point in spread_points(fit)]
    data = with_sites(_vague(cautious(fit), ends, shared=shared), data)
    parts = []
    for prediction in predict_over(points, data):
        sums = weights[prediction.shape.pattern]
        variance = np.einsum("i,uij,j->u", sums, prediction.covariance_um2, sums, optimize=True)
        parts.append(
            pd.DataFrame(
                {
                    "unit": prediction.unit,
                    "value_um": prediction.mean_um @ sums,
                    "sd_um": np.sqrt(np.maximum(variance, 0.0)),
                }
            )
        )
    frame = pd.concat(parts, ignore_index=True)
    told = frame["sd_um"] ** 2 < 0.01 * ENDLESS_UM2 * (0.5 if along_spline else 1.0)
    named = data.units[["shaft", "pattern", "group"]].reset_index(drop=True)
    return frame[told].join(named, on="unit").sort_values("unit", kind="stable").reset_index(drop=True)


def _vague(fit: WidthFit, ends: Sequence[str], *, shared: bool) -> WidthFit:
    """Take some spreads as endless, and means as sure, for they then say nothing."""
    variances = fit.variances.copy()
    for name in ends:
        variances[COMPONENTS.index(name)] = ENDLESS_UM2
    vague = replace(fit, variances=variances, mean_covariance=np.zeros_like(fit.mean_covariance))
    return vague if shared else _tied(vague)


def _tied(fit: WidthFit) -> WidthFit:
    """Take the mean bias of every class that nothing ties to the workshop for none, and sure."""
    loose = [f"class:{name}" for name in CLASSES if fit.mean_of(f"class:{name}") is None]
    rows = pd.DataFrame({"name": loose, "value_um": 0.0, "se_um": 0.0})
    means = pd.concat([fit.means, rows], ignore_index=True)
    covariance = np.zeros((len(means), len(means)))
    covariance[: len(fit.means), : len(fit.means)] = fit.mean_covariance
    return replace(fit, means=means, mean_covariance=covariance)
