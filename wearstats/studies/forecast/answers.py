"""The answers on record, hub by hub and owner by owner, as the model of asking takes them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.answers.records import AnswerRecords
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.inputs.hubs_in_use import HubsInUse
from wearstats.studies.inputs.sampling import sampled_names, sampled_store
from wearstats.studies.snapshot import Snapshot


def answer_records(snapshot: Snapshot, hubs: HubsInUse, entry_months: pd.Series[float]) -> AnswerRecords:
    """Gather the answers had when asking, as known on the day.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs that ran.
    entry_months : Series
        Months from the fitting from which each is known, in their order.

    Returns
    -------
    AnswerRecords
        By owner where one is on record, else by shaft; up to the end of the records of outcomes.
    """
    asked: dict[str, Any] = {"as_of": snapshot.known_on, "shafts": sampled_names(snapshot)}
    store = sampled_store(snapshot)
    follow_ups, owners = store.query("fittings/follow_ups", **asked), store.query("review/owners", **asked)
    owner = hubs.frame["shaft"].map(owners.drop_duplicates("shaft").set_index("shaft")["owner"])
    named = ("owner " + owner.astype("str")).where(owner.notna(), "shaft " + hubs.frame["shaft"].astype("str"))
    return records_of(follow_ups, hubs, entry_months, owner=named)


def records_of(
    follow_ups: pd.DataFrame, hubs: HubsInUse, entry_months: pd.Series[float], *, owner: pd.Series[str]
) -> AnswerRecords:
    """Put follow-ups (``fitting``, ``seen_on``, ``state``, ``prompted``) to the hubs; of others they do not count."""
    frame, today = hubs.frame, pd.Timestamp(hubs.as_of)

    def months(days: pd.Series[pd.Timestamp]) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.asarray((pd.to_datetime(days) - today).dt.total_seconds() / 86400 / MEAN_MONTH_DAYS, dtype=float)

    recorded = frame["recorded_on"] if "recorded_on" in frame else pd.Series(today, index=frame.index)
    start = months(frame["from_on"]) + entry_months.fillna(0.0).to_numpy(dtype=float)
    stop = np.fmin(np.fmin(months(frame["to_on"]), months(recorded)), 0.0)
    answered = follow_ups[follow_ups["prompted"].eq("asked") & follow_ups["state"].ne("no-answer")]
    place = pd.Index(frame["fitting"]).get_indexer(pd.Index(answered["fitting"]))
    month = months(answered["seen_on"])
    inside = (place >= 0) & (month > start[place]) & (month <= stop[place] + 0.5 / MEAN_MONTH_DAYS)
    return AnswerRecords(
        owner=pd.factorize(owner)[0].astype(np.int64),
        start=start,
        stop=np.maximum(stop, start),
        hub=place[inside].astype(np.int64),
        month=np.minimum(month[inside], stop[place[inside]]),
    )
