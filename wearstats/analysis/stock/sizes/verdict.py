"""What is to be said of the sizes first: whether others than today's pay, and how sure that is."""

from __future__ import annotations

from enum import StrEnum

from wearstats.analysis.estimate import Estimate


class SizesVerdict(StrEnum):
    """The verdict on which sizes to keep."""

    TOO_EARLY = "too-early"
    NO_SIZES_TODAY = "no-sizes-today"
    KEEP_TODAY = "keep-today"
    SAVES = "saves"
    COSTS = "costs"
    NOT_SURE = "not-sure"


def judge_sizes(saving: Estimate | None, *, keeps_today: bool, nearly_unknown: bool) -> SizesVerdict:
    """Give the verdict.

    Parameters
    ----------
    saving : Estimate or None
        What the sizes save a year against today's; None where none are on offer today.
    keeps_today : bool
        Whether they are today's.
    nearly_unknown : bool
        Whether what a year asks for is nearly unknown.
    """
    if nearly_unknown:
        return SizesVerdict.TOO_EARLY
    if saving is None or saving.low is None or saving.high is None:
        return SizesVerdict.NO_SIZES_TODAY
    if keeps_today:
        return SizesVerdict.KEEP_TODAY
    if saving.low > 0:
        return SizesVerdict.SAVES
    return SizesVerdict.COSTS if saving.high < 0 else SizesVerdict.NOT_SURE
