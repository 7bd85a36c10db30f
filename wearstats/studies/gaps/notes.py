"""The notes made at a fitting, and which drawn quantity each of them tells of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wearstats.analysis.gaps.draws import GapDraws
from wearstats.analysis.gaps.indicators import Indicator, learn_indicator, weigh
from wearstats.domain.arrays import FloatArray

NOTES = ("play measured", "minutes filed", "splines marked", "slid on as supplied")
_STROKES_UM = 20.0
"""Filing below which minutes hardly depend on it: getting ready takes as long; judgement."""


def notes_of(rows: pd.DataFrame, splines: int) -> dict[str, FloatArray]:
    """Give the notes of some fittings as numbers, each of shape (fittings,), NaN where there is none.

    Parameters
    ----------
    rows : DataFrame
        ``method``, ``went_on``, ``play_um``, ``filing_min``, ``drive_marked``, ``coast_marked``.
    splines : int
        Splines of the pattern.
    """
    supplied = rows["method"].eq("as-supplied").to_numpy(dtype=bool)
    minutes = rows["filing_min"].to_numpy(dtype=float, na_value=np.nan)
    went_on = rows["went_on"]
    drive, coast = (rows[side].astype("Float64") for side in ("drive_marked", "coast_marked"))
    # more than there are splines were counted in another way
    marked = ((drive + coast) / (2 * splines)).where((drive <= splines) & (coast <= splines))
    return {
        "play measured": rows["play_um"].to_numpy(dtype=float, na_value=np.nan),
        "minutes filed": np.log(np.where(~supplied & (minutes > 0), minutes, np.nan)),
        "splines marked": marked.to_numpy(dtype=float, na_value=np.nan),
        "slid on as supplied": np.where(
            supplied & went_on.notna(), went_on.eq("slid-on").to_numpy(dtype=float), np.nan
        ),
    }


def told_by_notes(draws: GapDraws) -> dict[str, FloatArray]:
    """Give what each kind of note tells of, draw by draw, each of shape (fittings, draws)."""
    return {
        "play measured": draws.play_bound_um,
        "minutes filed": np.log(draws.filed_um + _STROKES_UM),
        "splines marked": draws.bearing_share,
        "slid on as supplied": draws.room_um,
    }


def learn_notes(parts: Sequence[tuple[dict[str, FloatArray], dict[str, FloatArray]]]) -> tuple[Indicator, ...]:
    """Learn what the notes mean from fittings of which some left them: notes and draws, block by block."""
    learnt = (
        learn_indicator(
            name,
            np.concatenate([notes[name] for notes, _ in parts]),
            np.concatenate([told[name].mean(axis=1) for _, told in parts]),
            np.concatenate([told[name].var(axis=1) for _, told in parts]),
        )
        for name in NOTES
    )
    return tuple(indicator for indicator in learnt if indicator is not None)


def weigh_by_notes(
    indicators: Sequence[Indicator], notes: dict[str, FloatArray], told: dict[str, FloatArray]
) -> FloatArray:
    """Weigh the draws of some fittings by all their notes, shape (fittings, draws)."""
    weight = np.ones_like(told[NOTES[0]])
    for indicator in indicators:
        weight = weight * weigh(indicator, notes[indicator.name], told[indicator.name])
    return weight
