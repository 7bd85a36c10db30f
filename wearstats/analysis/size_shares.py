"""Which share of a fleet each hub size would serve."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.reml import FloatArray
from wearstats.analysis.wear_mixture import WearLaw
from wearstats.analysis.width_data import PatternShape
from wearstats.analysis.width_system import COMPONENTS, map_factor
from wearstats.domain.contact import way_in

GRIPPED_SHARE = 0.8
"""Share of the splines that a hub has to grip, as in `wearstats.analysis.choices.AdviceLimits`."""


def gripping_width(widths_um: FloatArray) -> FloatArray:
    """Width that `GRIPPED_SHARE` of the splines reach at their widest place on the way in.

    Parameters
    ----------
    widths_um : ndarray, shape (..., splines, stations)
        True widths.

    Returns
    -------
    ndarray, shape (...)
    """
    widest = np.sort(way_in(widths_um).max(axis=-1), axis=-1)
    splines = widest.shape[-1]
    return np.asarray(widest[..., splines - math.ceil(GRIPPED_SHARE * splines - 1e-9)])


def size_shares(
    law: WearLaw,
    shape: PatternShape,
    variances: FloatArray,
    station_um: FloatArray,
    undersizes_um: Sequence[float],
    spaces_um: FloatArray,
    *,
    common_se_um: float,
    rng: np.random.Generator,
    shafts: int = 4000,
    replicates: int = 100,
) -> pd.DataFrame:
    """Draw shafts from the fitted law and give each the loosest size that grips.

    Parameters
    ----------
    law : WearLaw
        How mean widths are spread.
    shape : PatternShape
        The pattern.
    variances : ndarray, shape (13,)
        Components of the width model.
    station_um : ndarray, shape (stations,)
        How far each station lies above the mean of all, as widths.
    undersizes_um, spaces_um : sequence and ndarray, shape (sizes,)
        Sizes and the widths of their spaces, relative to a new spline.
    common_se_um : float
        Standard error of what all readings share.
    rng : Generator
        For the draws.
    shafts, replicates : int
        Shafts drawn, and sets of parameters drawn from their errors.

    Returns
    -------
    DataFrame
        One row a size, from the loosest, and last the shafts that no size serves (``undersize_um`` NaN):
        ``undersize_um``, ``share`` (Estimate).
    """
    variances = variances.copy()
    variances[COMPONENTS.index("shaft")] = 0.0
    factor = map_factor(shape, variances)[: shape.places]
    own = rng.standard_normal((shafts, factor.shape[1])) @ factor.T
    own -= own.mean(axis=1, keepdims=True)
    own += np.tile(station_um - station_um.mean(), shape.splines)
    extra = gripping_width(own.reshape(-1, shape.splines, len(shape.stations)))
    level = rng.random(shafts), rng.random(shafts), rng.standard_normal(shafts)
    order = np.argsort(-spaces_um, kind="stable")
    edges = spaces_um[order]

    def shares(of: WearLaw, shift: float) -> FloatArray:
        grips = extra - of.at(*level) + shift
        # the loosest size whose spaces are not wider than what the splines reach
        served = np.searchsorted(-edges, -grips, side="left")
        return np.bincount(served, minlength=edges.size + 1) / shafts

    value = shares(law, 0.0)
    drawn = np.stack([shares(law.moved(rng=rng), rng.normal(0.0, common_se_um)) for _ in range(replicates)])
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
    sizes = [*(float(undersizes_um[k]) for k in order), float("nan")]
    method = "shafts drawn from the fitted law, parameters from their errors"
    return pd.DataFrame(
        {
            "undersize_um": sizes,
            "share": [
                Estimate(value=float(v), low=float(a), high=float(b), method=method)
                for v, a, b in zip(value, low, high, strict=True)
            ],
        }
    )
