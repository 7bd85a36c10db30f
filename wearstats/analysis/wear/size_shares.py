"""Which share of a fleet each hub size would serve."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from wearstats.analysis.remark import remark
from wearstats.analysis.wear.distribution import WearSpread
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.analysis.widths.components import COMPONENTS, map_factor
from wearstats.analysis.widths.data import PatternShape
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import way_in

GRIPPED_SHARE = 0.8
"""Share of the splines that a hub has to grip, as in `wearstats.analysis.advice.options.AdviceLimits`."""


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
    law: WearSpread,
    shape: PatternShape,
    variances: FloatArray,
    station_um: FloatArray,
    undersizes_um: Sequence[float],
    spaces_um: FloatArray,
    *,
    common_se_um: float,
    rng: np.random.Generator,
    shafts: int = 4000,
) -> pd.DataFrame:
    """Give every shaft of the spread the loosest size that grips.

    Parameters
    ----------
    law : WearSpread
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
        For the shafts' own unevenness.
    shafts : int
        How many uneven shafts are drawn; each may be worn as deep as any.

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
    extra = np.sort(gripping_width(own.reshape(-1, shape.splines, len(shape.stations))))
    order = np.argsort(-spaces_um, kind="stable")
    # a size is too loose where the splines reach less than its spaces are wide
    too_loose = np.searchsorted(extra, spaces_um[order][:, None] + law.cells.middles_um, side="left") / shafts
    beyond = np.vstack([np.ones(law.cells.count), too_loose, np.zeros(law.cells.count)])
    method = remark(WearRemark.SERVED)
    return pd.DataFrame(
        {
            "undersize_um": [*(float(undersizes_um[k]) for k in order), float("nan")],
            "share": law.share_estimates(-np.diff(beyond, axis=0), common_um=common_se_um, method=method),
        }
    )
