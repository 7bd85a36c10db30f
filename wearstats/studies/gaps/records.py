"""The records that gaps rest on: which hubs were chosen, and the readings of their shafts, of the sample."""

from __future__ import annotations

from typing import Any

import pandas as pd

from wearstats.studies.inputs.sampling import sampled_names, sampled_store
from wearstats.studies.inputs.spoiled_records import SpoiledRecords, judge_records
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import WidthReadings, read_widths
from wearstats.studies.snapshot import Snapshot, part


@part("models_from")
def sampled_readings(snapshot: Snapshot) -> WidthReadings:
    """Give the readings of the shafts in the sample, but for those that are probably wrong."""
    if _all_are_sampled(snapshot):
        return width_fit(snapshot).readings
    return spoiled_records(snapshot).sound_of(_sample_as_read(snapshot))


@part("models_from")
def spoiled_records(snapshot: Snapshot) -> SpoiledRecords:
    """Say which records of the sample are probably wrong."""
    if _all_are_sampled(snapshot):
        return width_fit(snapshot).spoiled
    return judge_records(_sample_as_read(snapshot), _choices(snapshot))


@part("models_from")
def _sample_as_read(snapshot: Snapshot) -> WidthReadings:
    shafts = sampled_names(snapshot) or _choices(snapshot)["shaft"].dropna().unique().tolist()
    return read_widths(snapshot.at(snapshot.models_from), shafts=shafts, store=sampled_store(snapshot))


def _all_are_sampled(snapshot: Snapshot) -> bool:
    """Whether the width model's readings are those of the sample."""
    return sampled_names(snapshot) is None and width_fit(snapshot).readings.of_shafts is None


@part("models_from")
def choices_on_record(snapshot: Snapshot) -> pd.DataFrame:
    """Give, of every fitting of the sample, which hub was chosen, when, and on which inspections.

    A hub whose gauged space is probably wrong is taken by its size.
    """
    return spoiled_records(snapshot).without_spaces(_choices(snapshot))


@part("models_from")
def _choices(snapshot: Snapshot) -> pd.DataFrame:
    asked: dict[str, Any] = {"as_of": snapshot.models_from, "pattern": None, "shafts": sampled_names(snapshot)}
    return sampled_store(snapshot).query("fittings/choices", **asked)
