"""Read what was known of each shaft when its hub was chosen, for the comparison of like shafts."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.methods.covariates import read_at_decision
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.records import choices_on_record, sampled_readings
from wearstats.studies.inputs.widths import readings_in_hand
from wearstats.studies.snapshot import Snapshot


def read_decisions(snapshot: Snapshot) -> pd.DataFrame | None:
    """Summarise the readings that were in hand when each fitting's hub was chosen.

    Returns
    -------
    DataFrame or None
        As `wearstats.analysis.methods.covariates.read_at_decision` gives it, with ``undersize_um`` of the hub; None
        where no fitting has readings in hand.
    """
    try:
        known = sampled_readings(snapshot)
    except AnalysisError:  # without any reading the methods are still compared in other ways
        return None
    fittings = choices_on_record(snapshot)
    fittings = fittings[fittings["pattern"].isin(known.patterns)]
    in_hand = readings_in_hand(known, fittings)
    if in_hand.inspections.empty:
        return None
    read = read_at_decision(in_hand.inspections, in_hand.moments, in_hand.shapes)
    return read.join(fittings.set_index("fitting")["undersize_um"].astype(float))
