"""The hubs in use as rows: what each is, who is called about it, and its chances to be loose."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import widened_interval
from wearstats.domain.arrays import FloatArray
from wearstats.studies.forecast.running_hubs import AHEAD_MONTHS, RunningChances
from wearstats.studies.inputs.hubs_in_use import HubsInUse
from wearstats.studies.inputs.sampling import sampled_names, sampled_store
from wearstats.studies.snapshot import Snapshot

_QUARTER, _YEAR = range(len(AHEAD_MONTHS))


def running_frame(snapshot: Snapshot, hubs: HubsInUse, chances: RunningChances | None) -> pd.DataFrame:
    """Give the frame that `ForecastStudy.running` describes.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    hubs : HubsInUse
        The hubs that ran.
    chances : RunningChances or None
        What is predicted of each; None where nothing is.
    """
    frame = _running_without(hubs) if chances is None else _running(chances)
    found = sampled_store(snapshot).query("review/owners", as_of=snapshot.known_on, shafts=sampled_names(snapshot))
    owner = frame["shaft"].map(found.drop_duplicates("shaft").set_index("shaft")["owner"])
    return frame.assign(owner=owner.astype(object).where(owner.notna(), None))


def _running(chances: RunningChances) -> pd.DataFrame:
    predicted = chances.predicted
    columns: dict[str, FloatArray] = {"gap_left_um": chances.gap_um}
    for name, draws in (
        ("loose_now", predicted.loose_now),
        ("risk_quarter", predicted.loose_by(_QUARTER)),
        ("risk_year", predicted.loose_by(_YEAR)),
    ):
        mean = draws.mean(axis=0)
        low, high, _ = widened_interval(draws, mean)
        columns |= {name: mean, f"{name}_low": low, f"{name}_high": high}
    frame = _named(chances.hubs).assign(**columns)
    return frame.sort_values(["risk_quarter", "fitting"], ascending=[False, True]).reset_index(drop=True)


def _running_without(hubs: HubsInUse) -> pd.DataFrame:
    """Give the hubs in use where nothing is predicted of them one by one."""
    none = [
        "gap_left_um",
        *(f"{name}{end}" for name in ("loose_now", "risk_quarter", "risk_year") for end in ("", "_low", "_high")),
    ]
    frame = _named(hubs.frame[hubs.running]).assign(**dict.fromkeys(none, np.nan))
    return frame.sort_values(["last_word_on", "fitting"]).reset_index(drop=True)


def days_written(running: pd.DataFrame) -> pd.DataFrame:
    """Write the days in rows of `ForecastStudy.running` out, for a document or a file."""
    days = running.select_dtypes("datetime")
    return running.assign(**{str(name): days[name].dt.strftime("%Y-%m-%d") for name in days})


def _named(hubs: pd.DataFrame) -> pd.DataFrame:
    kept = [
        "fitting", "shaft", "hub", "pattern", "region", "method_sent", "undersize_um", "batch", "withdrawn", "from_on",
        "last_word_on", "told",
    ]  # fmt: skip
    frame = hubs[kept].rename(columns={"method_sent": "method", "from_on": "fitted_on"})
    return frame.reset_index(drop=True)
