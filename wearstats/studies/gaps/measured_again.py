"""What inspections not in hand said of shafts whose hub had been chosen, before it had run."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from wearstats.analysis.gaps.draws import maps_as_read
from wearstats.studies.gaps.records import choices_on_record, sampled_readings
from wearstats.studies.inputs.widths import WidthReadings, readings_in_hand
from wearstats.studies.snapshot import Snapshot, part


@part("models_from")
def inspections_beside(snapshot: Snapshot) -> pd.DataFrame:
    """Give what inspections not in hand said of the sample's shafts before their hub had run; see `other_readings`."""
    readings = sampled_readings(snapshot)
    in_hand = readings_in_hand(readings, choices_on_record(snapshot))
    return other_readings(readings, in_hand, troubled=troubled_shafts(snapshot))


@part("models_from")
def troubled_shafts(snapshot: Snapshot) -> pd.DataFrame:
    """Give ``shaft`` and ``sent_on`` of hubs that made trouble before they ran."""
    return snapshot.at(snapshot.models_from).query("fittings/trouble")


def other_readings(
    readings: WidthReadings, in_hand: WidthReadings, *, troubled: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Give what inspections not in hand said of the same shaft, before the hub had run.

    Parameters
    ----------
    readings : WidthReadings
        All readings.
    in_hand : WidthReadings
        Those in hand, as `readings_in_hand` gives them.
    troubled : DataFrame, optional
        As `readings_beside` takes it.

    Returns
    -------
    DataFrame
        ``fitting``, ``other_um`` (mean width below new as read); one row a fitting whose shaft was measured once more.
    """
    beside = readings_beside(readings, in_hand, troubled=troubled)
    if beside.moments.empty:
        return pd.DataFrame({"fitting": pd.Series(dtype="str"), "other_um": pd.Series(dtype=float)})
    data = beside.reduce()
    names = data.units["unit"].to_numpy(dtype=object)
    parts = [
        pd.DataFrame({"fitting": names[block.unit], "other_um": -maps_as_read(block).mean(axis=(1, 2))})
        for block in data.blocks
    ]
    return pd.concat(parts, ignore_index=True).sort_values("fitting", ignore_index=True)


def readings_beside(
    readings: WidthReadings, in_hand: WidthReadings, *, troubled: pd.DataFrame | None = None
) -> WidthReadings:
    """Take, for every fitting, the inspections of its shaft that were not in hand, though made before its hub ran.

    Parameters
    ----------
    readings, in_hand : WidthReadings
        All readings, and those in hand, as `readings_in_hand` gives them.
    troubled : DataFrame, optional
        ``shaft`` and ``sent_on`` of hubs that made trouble; what was measured after one that was sent between the same
        two hubs was perhaps measured because of it, and is left out.

    Returns
    -------
    WidthReadings
        Its units are the fittings that have such an inspection, named as `readings_in_hand` names them.
    """
    used = in_hand.inspections[["unit", "shaft", "hubs_before"]].drop_duplicates("unit")
    known = readings.inspections
    if troubled is not None and not troubled.empty:
        known = known[~known["inspection"].isin(_after_trouble(known, troubled))]
    pairs = used.merge(known.drop(columns=["unit"]), on=["shaft", "hubs_before"])
    taken = set(in_hand.inspections["inspection"])
    pairs = pairs.assign(source=pairs["inspection"], inspection=pairs["unit"] + " " + pairs["inspection"])
    pairs = pairs[~pairs["inspection"].isin(taken)]
    moments = pairs[["inspection", "source"]].merge(
        readings.moments.rename(columns={"inspection": "source"}), on="source"
    )
    return replace(readings, inspections=pairs[pairs["inspection"].isin(moments["inspection"])], moments=moments)


def _after_trouble(inspections: pd.DataFrame, troubled: pd.DataFrame) -> pd.Series[str]:
    """Name inspections made after a hub that made trouble was sent, no other hub having run since the shaft's first."""
    first = inspections.groupby("unit")["measured_on"].transform("min")
    pairs = inspections[["inspection", "shaft", "measured_on"]].assign(first=first).merge(troubled, on="shaft")
    return pairs.loc[(pairs["sent_on"] >= pairs["first"]) & (pairs["sent_on"] <= pairs["measured_on"]), "inspection"]
