"""Name the records that the slope against the gap hangs on most, and those that are probably wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.loosening.sensitivity import find_influence
from wearstats.domain.frames import columns
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.gaps.records import spoiled_records
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.loosening.fit_from_store import loosening_fit, require_gaps
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

DOUBTED = 0.2
"""Chance of a wrong record from which a fitting is named; twenty times what is taken of any (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MovingRecords:
    """What moves the slope most, and what is probably wrong.

    Parameters
    ----------
    slope : float or None
        Log hazard per 10 um, with all; None where there is no model.
    shafts : DataFrame
        ``shaft``, ``fittings`` (their names), ``slope_without``: what moves it most, the most first.
    doubted : DataFrame
        ``fitting``, ``shaft``, ``hub``, ``chance`` that hub, dates, state or readings are wrong: where it is at least
        `DOUBTED`, the likeliest first.
    inspections : DataFrame
        ``inspection``, ``shaft``, ``off_um`` (from what is likely): left out.
    hubs : DataFrame
        ``hub``, ``space_width_mm`` (as gauged), ``off_um`` (from nominal): taken by their size.
    """

    slope: float | None
    shafts: Annotated[pd.DataFrame, columns(text="shaft fittings", number="slope_without")]
    doubted: Annotated[pd.DataFrame, columns(text="fitting shaft hub", number="chance")]
    inspections: Annotated[pd.DataFrame, columns(text="inspection shaft", number="off_um")]
    hubs: Annotated[pd.DataFrame, columns(text="hub", number="space_width_mm off_um")]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "moves_most": self.shafts,
            "doubted_fittings": self.doubted,
            "inspections_left_out": self.inspections,
            "hubs_by_size": self.hubs,
        }


@part(*EVERYTHING, kept=True)
def moving_records(snapshot: Snapshot) -> MovingRecords:
    """Find what moves the slope of the pattern most.

    Raises
    ------
    AnalysisError
        As of `loosening_fit`.
    """
    fit = loosening_fit(snapshot)
    ran = histories_of(snapshot).by_flanks
    known, _ = require_gaps(ran, known_gaps(snapshot))
    found = find_influence(fit)
    rows = known.iloc[np.argsort(known["shaft"].to_numpy(dtype=str), kind="stable")][["fitting", "shaft", "hub"]]
    names = rows["fitting"].groupby(fit.data.shaft).agg(", ".join)
    shafts = rows["shaft"].to_numpy(dtype=object)[fit.data.first_row]
    doubted = rows.assign(chance=found.spoiled)
    doubted = doubted[doubted["chance"] >= DOUBTED].sort_values("chance", ascending=False, kind="stable")
    return replace(
        records_left_out(snapshot),
        slope=fit.slope,
        shafts=pd.DataFrame(
            {
                "shaft": shafts[found.shaft],
                "fittings": names.to_numpy(dtype=object)[found.shaft],
                "slope_without": found.slope_without,
            }
        ),
        doubted=doubted.reset_index(drop=True),
    )


def records_left_out(snapshot: Snapshot) -> MovingRecords:
    """Give what is probably wrong whether or not there is a model; AnalysisError where nothing was measured."""
    spoiled = spoiled_records(snapshot)
    inspections, hubs = spoiled.inspections_left_out, spoiled.hubs_left_out
    if snapshot.pattern is not None:
        inspections, hubs = (part[part["pattern"] == snapshot.pattern] for part in (inspections, hubs))
    return MovingRecords(
        slope=None,
        shafts=pd.DataFrame(),
        doubted=pd.DataFrame(),
        inspections=inspections[["inspection", "shaft", "off_um"]].reset_index(drop=True),
        hubs=hubs[["hub", "space_width_mm", "off_um"]].reset_index(drop=True),
    )
