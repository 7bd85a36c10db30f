"""Which records of widths are probably wrong as a whole, before anything is fitted to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.gaps.spoiled import LEFT_OUT, judge_hubs, judge_inspections
from wearstats.analysis.gauging.outliers import find_stray_readings
from wearstats.domain.frames import columns
from wearstats.studies.inputs.widths import WidthReadings, readings_in_hand

SLIP_SDS = 8.0
"""So many times the usual scatter no hand reads wrong: a slip of pen or thimble, which is no measure of anybody's hand
(judgement: of 140 000 sound readings of invented fleets none lies beyond 7)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpoiledRecords:
    """How likely inspections and gauged hubs are to be wrong.

    Parameters
    ----------
    inspections : DataFrame
        ``inspection``, ``shaft``, ``pattern``, ``off_um`` (middle width as read less what is likely by the hub
        that was sent, else by other inspections, else by the pattern), ``chance`` of being wrong as a whole.
    hubs : DataFrame
        ``hub``, ``pattern``, ``space_width_mm`` (as gauged), ``off_um`` (from nominal), ``chance``.
    places : DataFrame
        ``inspection``, ``spline``, ``station``: single places and splines that are surely slips.
    """

    inspections: Annotated[pd.DataFrame, columns(text="inspection shaft pattern", number="off_um chance")]
    hubs: Annotated[pd.DataFrame, columns(text="hub pattern", number="space_width_mm off_um chance")]
    places: Annotated[pd.DataFrame, columns(text="inspection", any="spline station")]

    @property
    def inspections_left_out(self) -> pd.DataFrame:
        """Give those that are more likely wrong than not, the likeliest first."""
        return _left_out(self.inspections)

    @property
    def hubs_left_out(self) -> pd.DataFrame:
        """Give those that are more likely wrong than not, the likeliest first."""
        return _left_out(self.hubs)

    def sound_of(self, readings: WidthReadings) -> WidthReadings:
        """Leave out inspections that are more likely wrong than not, and slips.

        Four readings off by a turn of the thimble, among eight hundred sheets, double the repeatability of all.
        """
        wrong = self.inspections_left_out["inspection"]
        # mostly nothing is wrong, and of a large fleet a copy is large
        if wrong.empty and self.places.empty:
            return readings
        return readings.without(self.places).without_inspections(wrong)

    def without_spaces(self, choices: pd.DataFrame) -> pd.DataFrame:
        """Take hubs by their size whose gauged space is more likely wrong than not."""
        wrong = choices["hub"].isin(self.hubs_left_out["hub"])
        return choices.assign(space_width_mm=choices["space_width_mm"].astype(float).mask(wrong))

    def of_fittings(self, in_hand: pd.DataFrame, choices: pd.DataFrame) -> pd.Series:
        """Give the chance that something of what each fitting's gap rests on is wrong, by fitting.

        Parameters
        ----------
        in_hand : DataFrame
            ``unit`` (fitting) and ``source`` (inspection), as `readings_in_hand` has them.
        choices : DataFrame
            ``fitting`` and ``hub``.
        """
        sound = 1.0 - self.inspections.set_index("inspection")["chance"]
        read = in_hand["source"].map(sound).fillna(1.0).groupby(in_hand["unit"]).min()
        hubs = self.hubs[self.hubs["chance"] <= LEFT_OUT].set_index("hub")["chance"]
        by_hub = 1.0 - choices.set_index("fitting")["hub"].map(hubs).fillna(0.0)
        return 1.0 - by_hub * read.reindex(by_hub.index).fillna(1.0)


def judge_records(readings: WidthReadings, choices: pd.DataFrame) -> SpoiledRecords:
    """Judge inspections and gauged hubs.

    Parameters
    ----------
    readings : WidthReadings
        Of some shafts or all.
    choices : DataFrame
        Their fittings, as ``fittings/choices`` has them.

    Returns
    -------
    SpoiledRecords
    """
    # each inspection by itself: one that cannot be matched to another enters the model as averages, slips and all
    alone = readings.inspections.assign(unit=readings.inspections["inspection"])
    strays = find_stray_readings(readings.reduce(alone))
    slips = strays[(strays["score"] > SLIP_SDS) & strays["found_um"].notna()]
    choices = choices[choices["pattern"].isin(readings.patterns)]
    named = choices["pattern"].map(readings.patterns)
    nominal = [pattern.space_um(float(um)) for pattern, um in zip(named, choices["undersize_um"], strict=True)]
    widths = choices["space_width_mm"].astype(float)
    gauged = [pattern.width_um(mm) for pattern, mm in zip(named, widths, strict=True)]
    choices = choices.assign(space_um=nominal, off_um=np.array(gauged, dtype=float) - np.array(nominal, dtype=float))
    hubs = (
        choices[["hub", "pattern", "batch", "space_width_mm", "off_um"]].drop_duplicates("hub").reset_index(drop=True)
    )
    chance = judge_hubs(hubs["off_um"].to_numpy(dtype=float), hubs["batch"].to_numpy(dtype=object))
    return SpoiledRecords(
        inspections=_judge_inspections(readings, choices),
        hubs=hubs.drop(columns="batch").assign(space_width_mm=hubs["space_width_mm"].astype(float), chance=chance),
        places=slips[["inspection", "spline", "station"]].reset_index(drop=True),
    )


def _judge_inspections(readings: WidthReadings, choices: pd.DataFrame) -> pd.DataFrame:
    """Judge every inspection among those of its pattern."""
    level = readings.moments.groupby("inspection")["mean_um"].median()
    frame = readings.inspections[["inspection", "shaft", "pattern", "unit"]]
    frame = frame.assign(level_um=frame["inspection"].map(level)).dropna(subset=["level_um"])
    sent = readings_in_hand(readings, choices).inspections[["unit", "source"]]
    space = sent["unit"].map(choices.set_index("fitting")["space_um"]).groupby(sent["source"]).median()
    frame = frame.assign(space_um=frame["inspection"].map(space).astype(float), off_um=0.0, chance=0.0)
    # the second time without those found wrong at first, which make sound ones of the same shaft look odd
    for _ in range(2):
        frame = frame.assign(again_um=_again(frame))
        for _, mine in frame.groupby("pattern"):
            sides = (mine[name].to_numpy(dtype=float) for name in ("level_um", "space_um", "again_um"))
            frame.loc[mine.index, "chance"] = judge_inspections(*sides)
    for _, mine in frame.groupby("pattern"):
        # by the hub: less the clearance that hubs are usually sent with
        by_hub = mine["space_um"] - (mine["space_um"] - mine["level_um"]).median()
        likely = by_hub.fillna(mine["again_um"]).fillna(mine["level_um"].median())
        frame.loc[mine.index, "off_um"] = mine["level_um"] - likely
    return frame[["inspection", "shaft", "pattern", "off_um", "chance"]].reset_index(drop=True)


def _again(frame: pd.DataFrame) -> pd.Series[float]:
    """Give the mean of the other inspections of each one's unit that are not left out; NaN where there is none."""
    level = frame["level_um"].where(frame["chance"] <= LEFT_OUT)
    total, number = (level.groupby(frame["unit"]).transform(how) for how in ("sum", "count"))
    others = number - level.notna()
    return (total - level.fillna(0.0)) / others.where(others > 0)


def _left_out(frame: pd.DataFrame) -> pd.DataFrame:
    return frame[frame["chance"] > LEFT_OUT].sort_values("chance", ascending=False, kind="stable", ignore_index=True)
