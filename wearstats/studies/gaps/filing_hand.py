"""How long filing takes, by minutes written down, and how often it goes too far, by returns.

References
----------
.. [1] L. D. Brown, T. T. Cai, A. DasGupta, Interval estimation for a binomial proportion, Statistical Science 16 (2001)
   101-133: Jeffreys' prior.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from wearstats.analysis.advice.outcomes import FilingHand
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.contact import sum_up_fit, way_in
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import readings_in_hand
from wearstats.studies.snapshot import Snapshot, part

_FEWEST = 5


@part("models_from", kept=True)
def filing_hand(snapshot: Snapshot) -> FilingHand:
    """Learn how long filing takes, and how often it goes too far whatever the depth."""
    filed = snapshot.query("fittings/filed_too_far", as_of=snapshot.models_from).iloc[0]
    return replace(_pace(snapshot), careless=careless_chance(int(filed["filed"]), int(filed["too_far"])))


def careless_chance(filed: int, too_far: int) -> float:
    """Give the chance that a hub is filed too far: the mean of a Beta posterior under Jeffreys' prior [1]_.

    Parameters
    ----------
    filed, too_far : int
        Hubs filed, and those of them that came back filed too far.

    Returns
    -------
    float
        0 with fewer than `_FEWEST` such returns: then only the assumed error of filing counts.
    """
    return (too_far + 0.5) / (filed + 1.0) if too_far >= _FEWEST else 0.0


def _pace(snapshot: Snapshot) -> FilingHand:
    """Learn the pace: all minutes on record by those that the trials and depths predicted would take."""
    assumed = FilingHand()
    widths = width_fit(snapshot)
    readings, fit = widths.readings, widths.fit
    rows = snapshot.query("fittings/filing_pace", as_of=snapshot.models_from)
    rows = widths.spoiled.without_spaces(rows[rows["pattern"].isin(readings.patterns)])
    in_hand = readings_in_hand(readings, rows)
    if int(in_hand.inspections["unit"].nunique()) < _FEWEST:
        return assumed
    data = in_hand.reduce()
    space = rows.set_index("fitting")
    predicted = minutes = 0.0
    for prediction in predict_maps(fit, data):
        pattern = readings.patterns[prediction.shape.pattern]
        fittings = space.loc[data.units["unit"].to_numpy(dtype=object)[prediction.unit]]
        gauged = fittings["space_width_mm"].to_numpy(dtype=float)
        nominal = pattern.space_um(fittings["undersize_um"].to_numpy(dtype=float))
        spaces = np.where(pd.notna(gauged), pattern.width_um(gauged), nominal)
        stations = len(prediction.shape.stations)
        width = prediction.mean_um.reshape(-1, prediction.shape.splines, stations)
        fitted = sum_up_fit(way_in(width), width.mean(axis=(-2, -1)), spaces)
        predicted += float(assumed.minutes(fitted, stations=stations).sum())
        minutes += float(fittings["filing_min"].sum())
    return replace(assumed, pace=minutes / predicted, pace_assumed=False) if predicted > 0 else assumed
