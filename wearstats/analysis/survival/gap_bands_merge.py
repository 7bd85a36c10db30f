"""Bands of the gap, as it was known on the day of choice, for curves beside each other."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd

BANDS = 3
STEP_UM = 5.0
"""Bounds of the bands are whole steps, so that they can be said and remembered; judgement."""


def band_gaps(gap_um: pd.Series[float], *, bands: int = BANDS, step_um: float = STEP_UM) -> pd.Series[str]:
    """Part gaps into bands of about as many fittings each.

    Parameters
    ----------
    gap_um : Series
        Gap left, um; NaN where nothing was known of it.
    bands : int
        How many bands at most; fewer where their bounds would fall together.
    step_um : float
        Bounds are rounded to this.

    Returns
    -------
    Series
        Categorical, in the order of the gaps: ``up to 10 µm``, ``10 to 20 µm``, ``over 20 µm``; missing where the gap
        is. A gap on a bound belongs to the band below it.
    """
    known = gap_um.dropna()
    cuts = np.quantile(known, np.arange(1, bands) / bands) if len(known) else np.empty(0)
    bounds = np.unique(np.round(cuts / step_um) * step_um)
    if len(known):
        bounds = bounds[(bounds >= known.min()) & (bounds < known.max())]
    if bounds.size == 0:
        names = ["any gap"]
    else:
        inner = [f"{low:g} to {high:g} µm" for low, high in pairwise(bounds)]
        names = [f"up to {bounds[0]:g} µm", *inner, f"over {bounds[-1]:g} µm"]
    places = np.searchsorted(bounds, gap_um.fillna(0.0), side="left")
    codes = np.where(gap_um.isna(), -1, places).astype(np.int64)
    return pd.Series(
        pd.Categorical.from_codes(codes, dtype=pd.CategoricalDtype(names, ordered=True)), index=gap_um.index
    )
