"""How many minutes a micrometre of filing takes, from the fittings whose minutes were written down."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.widths import WidthFit, predict_maps
from wearstats.domain.contact import filing
from wearstats.store.connection import Store
from wearstats.studies.width_readings import WidthReadings

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


def study_filing_pace(store: Store, readings: WidthReadings, fit: WidthFit, *, as_of: datetime.date) -> FilingPace:
    """Work out the pace: all minutes on record by all micrometres that had to come off, as the maps predict them."""
    rows = store.query("filing_pace", as_of=as_of)
    named = rows[["fitting", "inspections"]].explode("inspections").rename(columns={"inspections": "inspection"})
    known = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    chosen = named.merge(known.drop(columns=["unit"]), on="inspection").rename(columns={"fitting": "unit"})
    if chosen["unit"].nunique() < _FEWEST:
        return FilingPace(minutes_per_um=ASSUMED_MINUTES_PER_UM, fittings=int(chosen["unit"].nunique()), assumed=True)
    # an inspection may stand behind two fittings: it gets a name of its own for each
    chosen = chosen.assign(inspection=chosen["unit"] + " " + chosen["inspection"], source=chosen["inspection"])
    chosen = chosen.assign(group=chosen.groupby("unit")["group"].transform("last"))
    moments = chosen[["inspection", "source"]].merge(
        readings.moments.rename(columns={"inspection": "source"}), on="source"
    )
    renamed = WidthReadings(patterns=readings.patterns, inspections=chosen, moments=moments)
    data = renamed.reduce()
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
        return FilingPace(minutes_per_um=ASSUMED_MINUTES_PER_UM, fittings=len(space), assumed=True)
    return FilingPace(minutes_per_um=minutes / total, fittings=int(chosen["unit"].nunique()), assumed=False)
