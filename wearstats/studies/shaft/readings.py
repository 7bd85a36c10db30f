"""What the readings in hand of a shaft tell besides its width: whether they can be believed, and which hardly can."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.advice.gate import ShaftFacts, StrayReading
from wearstats.analysis.gauging.agreement import all_equal, widest_disagreement
from wearstats.analysis.gauging.outliers import find_stray_readings
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import CLASSES, WidthData
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import MapPrediction
from wearstats.studies.inputs.widths import WidthReadings

_TURNS_UM = (500.0, 635.0)
"""A turn of a metric and of an inch thimble (common practice; the screws' leads are 0.5 mm and 0.025 in)."""
_WIDEST_UM, _DEEPEST_UM = 150.0, -350.0
"""No mean of a station lies beyond: wider than new by several tolerances, or worn by more than any hub is made for
(judgement)."""
_FAR_SDS = 6.0
_NEAR_SDS = 4.0


def facts_of_readings(
    fit: WidthFit, prediction: MapPrediction, data: WidthData, readings: WidthReadings, in_hand: pd.DataFrame
) -> ShaftFacts:
    """Look the readings in hand over.

    Parameters
    ----------
    fit : WidthFit
        How readings scatter.
    prediction : MapPrediction
        What they tell of the map.
    data : WidthData
        The readings in hand.
    readings, in_hand
        The same as rows.

    Returns
    -------
    ShaftFacts
        Without what the records tell.
    """
    places, stations = prediction.shape.places, len(prediction.shape.stations)
    count = data.blocks[0].count[0]
    read = count[:, :places].sum(axis=0) + np.tile(
        count[:, places : places + stations].sum(axis=0), prediction.shape.splines
    )
    return ShaftFacts(
        measured_on=pd.Timestamp(in_hand["measured_on"].max()).date(),
        strays=_strays(fit, data),
        level_um=_turn_off(fit, prediction, readings, in_hand),
        calipers_only=bool((in_hand["class"] == "caliper").all()),
        disagreement=widest_disagreement(fit, data),
        all_equal=all_equal(data),
        inspections=len(in_hand),
        measured_share=float(np.mean(read > 0)),
    )


def without_strays(readings: WidthReadings, strays: tuple[StrayReading, ...]) -> WidthReadings:
    """Leave out the readings that hardly belong, or the spline or inspection where all of it is meant."""
    names = ("inspection", "spline", "station")
    kept = readings.without(pd.DataFrame([{name: getattr(stray, name) for name in names} for stray in strays]))
    # an inspection that would have nothing left stays as it is: without any reading nothing could be said
    return kept if len(kept.moments) else readings


def _strays(fit: WidthFit, data: WidthData) -> tuple[StrayReading, ...]:
    variance = dict(zip(COMPONENTS, fit.variances, strict=True))
    # of one shaft's readings nobody can tell what scatter is usual: the width model of all shafts can
    usual = {name: float(np.sqrt(variance["cell"] + variance[f"repeatability_{name}"])) for name in CLASSES}
    spline = {name: float(np.sqrt(variance["spline"] + usual[name] ** 2 / 3)) for name in CLASSES}
    found = find_stray_readings(data, place_sd_um=usual, spline_sd_um=spline)
    return tuple(
        StrayReading(
            inspection=str(row["inspection"]),
            spline=None if pd.isna(row["spline"]) else int(row["spline"]),
            station=None if pd.isna(row["station"]) else str(row["station"]),
            found_um=None if pd.isna(row["found_um"]) else float(row["found_um"]),
            expected_um=None if pd.isna(row["expected_um"]) else float(row["expected_um"]),
            why=row["why"],
        )
        for row in found.to_dict("records")
    )


def _turn_off(fit: WidthFit, prediction: MapPrediction, readings: WidthReadings, in_hand: pd.DataFrame) -> float | None:
    """Say whether all readings, or those of a station, seem to be off together by a turn, and by how much."""
    mine = readings.moments[readings.moments["inspection"].isin(in_hand["inspection"])]
    by_station = mine.assign(total=mine["n"] * mine["mean_um"]).groupby("station")[["total", "n"]].sum()
    levels = by_station["total"] / by_station["n"]
    for level in levels:
        # no spline is that much wider than new, nor worn that deep: told without any other shaft
        if level > _WIDEST_UM or level < _DEEPEST_UM:
            return float(np.sign(level)) * min(_TURNS_UM, key=lambda turn: abs(abs(level) - turn))
    stations = [fit.mean_of(f"station:{prediction.shape.pattern}:{name}") for name in prediction.shape.stations]
    known = [told[0] for told in stations if told is not None]
    if not known:
        return None
    variance = dict(zip(COMPONENTS, fit.variances, strict=True))
    spread = float(np.sqrt(variance["shaft"] + variance["measurer_home"] + variance["inspection_home"]))
    off = float(np.average(mine["mean_um"], weights=mine["n"])) - float(np.mean(known))
    if abs(off) < _FAR_SDS * spread:
        return None
    near = [turn for turn in _TURNS_UM if abs(abs(off) - turn) < _NEAR_SDS * spread]
    return float(np.sign(off)) * near[0] if near else None
