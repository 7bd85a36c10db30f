"""Whether a hub has run on a shaft since it was last measured: what that took off the splines no reading shows."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pandas as pd

from wearstats.analysis.advice.rule import Advice
from wearstats.studies.snapshot import Snapshot


def told_since(advice: Advice, snapshot: Snapshot, shaft: str, *, measured_on: datetime.date) -> Advice:
    """Weigh the advice against what has run since the readings.

    Parameters
    ----------
    advice : Advice
        By the readings alone.
    snapshot : Snapshot
        What is asked.
    shaft : str
        Which.
    measured_on : datetime.date
        Day of its last reading.

    Returns
    -------
    Advice
        The same where nothing ran; with a warning where a hub ran; measure again where it came loose.
    """
    found = snapshot.query("fittings/hub_since", shaft=shaft, measured_on=measured_on)
    if found.empty:
        return advice
    row = found.iloc[0]
    heard = "" if pd.isna(row["heard_on"]) else f", last heard {row['state']} on {row['heard_on']:%Y-%m-%d}"
    ran = f"Its last reading is of {measured_on.isoformat()}, and hub {row['hub']} has gone on since{heard}"
    if row["loose"]:
        return Advice(
            do="measure-again",
            undersize_um=None,
            method=None,
            why=f"It cannot be chosen for yet. {ran}: a loose hub wears a shaft fast, and what this one took off the "
            "splines no reading shows. A new inspection lifts this.",
        )
    if advice.undersize_um is None:
        return advice
    warning = "what it took off the splines no reading shows. Have it measured again before another hub is sent."
    return replace(advice, why=f"{advice.why} {ran}: {warning}")
