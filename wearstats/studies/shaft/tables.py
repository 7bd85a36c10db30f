"""One shaft in rows: place by place, and inspection by inspection."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.advice.rule import Candidate
from wearstats.analysis.estimate import Z95
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import MapPrediction
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone
from wearstats.domain.contact import filing, gap_left
from wearstats.domain.pattern import Pattern
from wearstats.studies.inputs.widths import WidthReadings


def map_of(
    prediction: MapPrediction, readings: WidthReadings, in_hand: pd.DataFrame, pattern: Pattern, hub: Candidate | None
) -> pd.DataFrame:
    """Say of every place what it has lost, what was read there, and what a hub does on it."""
    splines, stations = prediction.shape.splines, prediction.shape.stations
    mean = prediction.mean_um[0].reshape(splines, len(stations))
    frame = pd.DataFrame(
        {
            "spline": np.repeat(np.arange(1, splines + 1), len(stations)),
            "station": list(stations) * splines,
            "station_index": np.tile(np.arange(len(stations)), splines),
            "width_um_below_new": -mean.ravel(),
            "sd_um": prediction.sd_um[0],
        }
    )
    # the last inspection's splines are numbered as the first one's only where both were marked: others are left out
    first = in_hand["inspection"].iloc[0]
    matched = in_hand[in_hand["marked"] | (in_hand["inspection"] == first)]["inspection"]
    read = readings.moments[readings.moments["inspection"].isin(matched)]
    read = (
        read.assign(total=read["n"] * read["mean_um"])
        .groupby(["spline", "station"], as_index=False)[["n", "total"]]
        .sum()
        .rename(columns={"station": "station_index"})
    )
    read = read.assign(reading_um_below_new=-read["total"] / read["n"])
    frame = frame.merge(read[["spline", "station_index", "reading_um_below_new"]], how="left")
    if hub is None:
        return frame.assign(filing_um=np.nan, gap_left_um=np.nan)
    space = pattern.space_um(hub.undersize_um)
    return frame.assign(filing_um=filing(mean, space).ravel(), gap_left_um=gap_left(mean, space).ravel())


def history_of(readings: WidthReadings, mine: pd.DataFrame, fit: WidthFit) -> pd.DataFrame:
    """Say what each inspection by itself tells of the mean width."""
    apart = mine.assign(unit=mine["inspection"], shaft=mine["inspection"])
    weights = {name: mean_weights(shape) for name, shape in readings.shapes.items()}
    told = read_alone(fit, readings.reduce(apart), weights)
    frame = mine[["inspection", "measured_on", "measurer", "class", "hubs_before"]].merge(
        told[["shaft", "value_um", "sd_um"]], left_on="inspection", right_on="shaft"
    )
    frame = frame.assign(
        width_um_below_new=-frame["value_um"],
        low_um_below_new=-frame["value_um"] - Z95 * frame["sd_um"],
        high_um_below_new=-frame["value_um"] + Z95 * frame["sd_um"],
        measured_on=pd.to_datetime(frame["measured_on"]).dt.date,
        hubs_before=frame["hubs_before"].astype(int),
    ).rename(columns={"measurer": "measured_by", "class": "kind"})
    columns = ["inspection", "measured_on", "measured_by", "kind", "hubs_before", "width_um_below_new", "sd_um"]
    return (
        frame[[*columns, "low_um_below_new", "high_um_below_new"]]
        .sort_values(["measured_on", "inspection"], kind="stable")
        .reset_index(drop=True)
    )
