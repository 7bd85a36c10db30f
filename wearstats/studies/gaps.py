"""What is known of the gap that each fitting left, as it stood on the day its hub was chosen."""

from __future__ import annotations

import datetime
from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.clearance import HubSpace, draw_maps, fit_draws, hub_space
from wearstats.analysis.width_fit import WidthFit
from wearstats.analysis.width_maps import predict_maps
from wearstats.analysis.widths import fit_widths
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.store.connection import Store
from wearstats.studies.width_readings import WidthReadings, read_widths

COLUMNS = (
    "fitting",
    "shaft",
    "pattern",
    "clearance_um",
    "gap_left_um",
    "gap_left_sd_um",
    "gap_left_low_um",
    "gap_left_high_um",
    "contact_share",
    "inspections",
    "space_status",
)


def study_gaps(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    fit: WidthFit | None = None,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Say what was known of every fitting's gap.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    fit : WidthFit, optional
        The width model, where it has been fitted already.
    rng : Generator
        For the draws.

    Returns
    -------
    DataFrame
        One row a fitting with readings in hand: `COLUMNS`, lengths in um; low and high enclose 95 %.

    Raises
    ------
    AnalysisError
        When no fitting has a reading that was in hand when its hub was chosen.

    Notes
    -----
    A reading is in hand when the fitting names it, or, where it names none, when it was taken since the last hub came
    off and not after the day of choice. A later one would leak the outcome: whoever has trouble measures again.
    """
    readings = read_widths(store, as_of=as_of, pattern=pattern)
    fit = fit or fit_widths(readings.one_unit_a_shaft(), intervals=False)
    fittings = store.query("fitting_choices", as_of=as_of, pattern=pattern)
    in_hand = readings_in_hand(readings, fittings)
    if in_hand.inspections.empty:
        raise AnalysisError(
            "no fitting has readings that were in hand when its hub was chosen",
            needed="name the inspections on the fitting, or add readings taken before its hub was sent",
        )
    data = in_hand.reduce()
    told = fittings.set_index("fitting")
    in_each = data.inspections["unit"].value_counts()
    frames = []
    for prediction in predict_maps(fit, data):
        names = data.units["unit"].to_numpy(dtype=object)[prediction.unit]
        spaces = [
            _space(row, readings.patterns[prediction.shape.pattern]) for row in told.loc[names].to_dict("records")
        ]
        maps = draw_maps(prediction, rng=rng)
        normal = rng.standard_normal(maps.shape[1])
        mean = np.array([space.mean_um for space in spaces])
        sd = np.array([space.sd_um for space in spaces])
        draws = fit_draws(maps, mean[:, None] + sd[:, None] * normal)
        low, high = np.quantile(draws.gap_left_um, [0.025, 0.975], axis=1)
        frames.append(
            pd.DataFrame(
                {
                    "fitting": names,
                    "shaft": told.loc[names, "shaft"].to_numpy(dtype=object),
                    "pattern": prediction.shape.pattern,
                    "clearance_um": draws.clearance_um.mean(axis=1),
                    "gap_left_um": draws.gap_left_um.mean(axis=1),
                    "gap_left_sd_um": draws.gap_left_um.std(axis=1),
                    "gap_left_low_um": low,
                    "gap_left_high_um": high,
                    "contact_share": draws.contact_share.mean(axis=1),
                    "inspections": in_each.reindex(names).to_numpy(),
                    "space_status": [space.status for space in spaces],
                }
            )
        )
    return pd.concat(frames, ignore_index=True).sort_values("fitting", kind="stable").reset_index(drop=True)


def readings_in_hand(readings: WidthReadings, fittings: pd.DataFrame) -> WidthReadings:
    """Take, for every fitting, a copy of the inspections in hand when its hub was chosen.

    Parameters
    ----------
    readings : WidthReadings
        All readings.
    fittings : DataFrame
        One row a fitting: ``fitting``, ``shaft``, ``chosen_on``, ``inspections`` (lists, may be missing).

    Returns
    -------
    WidthReadings
        Its units are the fittings; inspections are named ``fitting inspection``, since one may stand behind several.
    """
    known = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    known = known.drop(columns=["unit"])
    listed = np.array(
        [isinstance(names, list | np.ndarray) and len(names) > 0 for names in fittings["inspections"]], bool
    )
    named = fittings[listed][["fitting", "inspections"]].explode("inspections")
    by_name = named.rename(columns={"inspections": "inspection"}).merge(known, on="inspection")
    by_date = fittings[~listed][["fitting", "shaft", "chosen_on"]].merge(known, on="shaft")
    by_date = by_date[by_date["measured_on"] <= by_date["chosen_on"]]
    last = by_date.groupby("fitting")["hubs_before"].transform("max")
    chosen = pd.concat([by_name, by_date[by_date["hubs_before"] == last].drop(columns="chosen_on")], ignore_index=True)
    chosen = chosen.rename(columns={"fitting": "unit"})
    chosen = chosen.assign(source=chosen["inspection"], inspection=chosen["unit"] + " " + chosen["inspection"])
    chosen = chosen.assign(group=chosen.groupby("unit")["group"].transform("last"))
    moments = chosen[["inspection", "source"]].merge(
        readings.moments.rename(columns={"inspection": "source"}), on="source"
    )
    return WidthReadings(patterns=readings.patterns, inspections=chosen, moments=moments)


def _space(row: Mapping[Hashable, Any], pattern: Pattern) -> HubSpace:
    def relative(name: str) -> float | None:
        return None if pd.isna(row[name]) else pattern.width_um(float(row[name]))

    return hub_space(
        nominal_um=pattern.space_um(float(row["undersize_um"])),
        gauged_um=relative("space_width_mm"),
        gauged_u_um=None if pd.isna(row["space_u_um"]) else float(row["space_u_um"]),
        go_um=relative("go_mm"),
        no_go_um=relative("no_go_mm"),
    )
