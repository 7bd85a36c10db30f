"""Read what was known of each shaft when its hub was chosen, for the comparison of like shafts."""

from __future__ import annotations

import datetime

import pandas as pd

from wearstats.analysis.methods.covariates import read_at_decision
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.gaps.known_gaps import readings_in_hand
from wearstats.studies.inputs.widths import WidthReadings, read_widths


def read_decisions(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    shafts: list[str] | None = None,
    readings: WidthReadings | None = None,
) -> pd.DataFrame | None:
    """Summarise the readings that were in hand when each fitting's hub was chosen.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    shafts : list of str, optional
        Restriction to some shafts.
    readings : WidthReadings, optional
        All readings, where they are there already.

    Returns
    -------
    DataFrame or None
        As `wearstats.analysis.methods.covariates.read_at_decision` gives it, with ``undersize_um`` of the hub; None
        where no fitting has readings in hand.
    """
    try:
        known = readings or read_widths(store, as_of=as_of, pattern=pattern, shafts=shafts)
    except AnalysisError:  # without any reading the methods are still compared in other ways
        return None
    fittings = store.query("fittings/choices", as_of=as_of, pattern=pattern, shafts=shafts)
    fittings = fittings[fittings["pattern"].isin(known.patterns)]
    in_hand = readings_in_hand(known, fittings)
    if in_hand.inspections.empty:
        return None
    read = read_at_decision(in_hand.inspections, in_hand.moments, in_hand.shapes)
    return read.join(fittings.set_index("fitting")["undersize_um"].astype(float))
