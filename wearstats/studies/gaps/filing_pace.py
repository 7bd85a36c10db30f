"""How many minutes a micrometre of filing takes, from the fittings whose minutes were written down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.contact import filing
from wearstats.studies.gaps.known_gaps import readings_in_hand
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.snapshot import Snapshot, part

ASSUMED_MINUTES_PER_UM = 0.125
"""An hour for 24 places of 20 um; judgement, a few um come off at a light stroke (memory, order only)."""
_FEWEST = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class FilingPace:
    """The pace.

    Parameters
    ----------
    minutes_per_um : float
        Minutes by micrometre of filing, summed over the places of the shaft.
    fittings : int
        How many it rests on.
    assumed : bool
        Whether these were too few, and it is a stated guess.
    """

    minutes_per_um: float
    fittings: int
    assumed: bool


@part("models_from")
def filing_pace(snapshot: Snapshot) -> FilingPace:
    """Work out the pace: all minutes on record by all micrometres that had to come off, as the maps predict them."""
    readings, fit = width_fit(snapshot).readings, width_fit(snapshot).fit
    rows = snapshot.query("fittings/filing_pace", as_of=snapshot.models_from)
    rows = rows[rows["pattern"].isin(readings.patterns)]
    in_hand = readings_in_hand(readings, rows)
    fittings_told = int(in_hand.inspections["unit"].nunique())
    if fittings_told < _FEWEST:
        return FilingPace(minutes_per_um=ASSUMED_MINUTES_PER_UM, fittings=fittings_told, assumed=True)
    data = in_hand.reduce()
    space = rows.set_index("fitting")
    total = 0.0
    minutes = 0.0
    for prediction in predict_maps(fit, data):
        pattern = readings.patterns[prediction.shape.pattern]
        fittings = space.loc[data.units["unit"].to_numpy(dtype=object)[prediction.unit]]
        gauged = fittings["space_width_mm"].to_numpy(dtype=float)
        nominal = pattern.space_um(fittings["undersize_um"].to_numpy(dtype=float))
        spaces = np.where(pd.notna(gauged), pattern.width_um(gauged), nominal)
        grid = (-1, prediction.shape.splines, len(prediction.shape.stations))
        total += float(filing(prediction.mean_um.reshape(grid), spaces[:, None, None]).sum())
        minutes += float(fittings["filing_min"].sum())
    if total <= 0:
        return FilingPace(minutes_per_um=ASSUMED_MINUTES_PER_UM, fittings=fittings_told, assumed=True)
    return FilingPace(minutes_per_um=minutes / total, fittings=fittings_told, assumed=False)
