"""Of a large fleet, the fittings of some shafts taken at random, the same each time.

Of twenty thousand shafts the chance of working loose within a year is known to a third of a hub in a hundred, and the
slope against the gap to a few parts in a hundred: more would sharpen what nobody decides by, at a hundred times the
work.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from wearstats.analysis.histories import Histories

SAMPLE_SHAFTS = 20_000
"""Of more shafts than that so many are taken."""


def sample_fittings(histories: Histories, *, most_shafts: int = SAMPLE_SHAFTS) -> tuple[Histories, int | None]:
    """Take the fittings of some shafts, where there are more than need be.

    Parameters
    ----------
    histories : Histories
        All of them.
    most_shafts : int
        How many shafts at most.

    Returns
    -------
    Histories
        Those of the shafts taken; all of them where they are few.
    int or None
        How many shafts were taken; None where all were.

    Notes
    -----
    A shaft is taken by a digest of its name, so that the same store always gives the same sample, and a growing one
    keeps most of it.
    """
    shafts = histories.frame["shaft"].dropna().unique()
    if shafts.size <= most_shafts:
        return histories, None
    digest = pd.util.hash_array(np.asarray(shafts, dtype=object))
    taken = set(shafts[np.argsort(digest, kind="stable")[:most_shafts]])
    return replace(histories, frame=histories.frame[histories.frame["shaft"].isin(taken)]), len(taken)
