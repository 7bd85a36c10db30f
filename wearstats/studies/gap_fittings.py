"""The fittings that ran, beside what was known of their gaps, and what is held beside the gap."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from wearstats.studies.gaps import KnownGaps

AS_SUPPLIED = "sent as supplied"
_FEWEST_IN_GROUP = 10


def with_gaps(ran: pd.DataFrame, gaps: KnownGaps) -> tuple[pd.DataFrame, np.ndarray[Any, np.dtype[np.int64]]]:
    """Keep the fittings whose gap is known, and give their rows in `gaps`."""
    place = pd.Series(np.arange(len(gaps.frame)), index=gaps.frame["fitting"])
    known = ran[ran["fitting"].isin(place.index)]
    return known, place.loc[known["fitting"]].to_numpy(dtype=np.int64)


def covariates_of(known: pd.DataFrame) -> tuple[np.ndarray[Any, np.dtype[np.float64]], tuple[str, ...]]:
    """Give what is held beside the gap, 0 and 1: the method sent, and the duty; only where both values occur enough."""
    columns = {AS_SUPPLIED: known["method_sent"].eq("as-supplied")}
    duties = known["duty"].value_counts()
    columns |= {f"duty {duty}": known["duty"].eq(duty) for duty in sorted(duties.index[1:].astype(str))}
    enough = {
        name: column.to_numpy(dtype=float)
        for name, column in columns.items()
        if _FEWEST_IN_GROUP <= column.sum() <= len(known) - _FEWEST_IN_GROUP
    }
    values = np.zeros((len(known), len(enough)))
    for index, column in enumerate(enough.values()):
        values[:, index] = column
    return values, tuple(enough)
