"""The fittings that ran, beside what was known of their gaps, and what is held beside the gap."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from wearstats.studies.gaps.known_gaps import KnownGaps
from wearstats.studies.loosening.risk_model import AS_SUPPLIED, DUTY

_FEWEST_IN_GROUP = 10


def with_gaps(ran: pd.DataFrame, gaps: KnownGaps) -> tuple[pd.DataFrame, np.ndarray[Any, np.dtype[np.int64]]]:
    """Keep the fittings whose gap is known, and give their rows in `gaps`."""
    place = pd.Series(np.arange(len(gaps.frame)), index=gaps.frame["fitting"])
    known = ran[ran["fitting"].isin(place.index)]
    return known, place.loc[known["fitting"]].to_numpy(dtype=np.int64)


def covariates_of(known: pd.DataFrame) -> tuple[np.ndarray[Any, np.dtype[np.float64]], tuple[str, ...]]:
    """Give what is held beside the gap, 0 and 1: the method sent, and the duty; only where both values occur enough."""
    duties = known["duty"].value_counts()
    names = (AS_SUPPLIED, *(DUTY + duty for duty in sorted(duties.index[1:].astype(str))))
    values = beside_gap(known, names)
    count = values.sum(axis=0)
    enough = (count >= _FEWEST_IN_GROUP) & (count <= len(known) - _FEWEST_IN_GROUP)
    return values[:, enough], tuple(name for name, kept in zip(names, enough, strict=True) if kept)


def beside_gap(ran: pd.DataFrame, names: tuple[str, ...]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Give what some names of `covariates_of` say of fittings, 0 and 1, shape (fittings, names)."""
    values = np.zeros((len(ran), len(names)))
    for index, name in enumerate(names):
        told = ran["method_sent"].eq("as-supplied") if name == AS_SUPPLIED else (DUTY + ran["duty"]).eq(name)
        values[:, index] = told.fillna(False).to_numpy(dtype=float)
    return values
