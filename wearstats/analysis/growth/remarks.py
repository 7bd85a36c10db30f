"""What may be remarked of growth."""

from enum import StrEnum


class GrowthRemark(StrEnum):
    """Why a rate, or the hours until a size is due, are as they are, or are none."""

    WITHIN = "growth-within-shafts"
    ACROSS = "growth-across-shafts"
    ACROSS_FEW = "growth-across-few-shafts"
    DUE_BY_RATE = "due-by-rate"
    DUE_OPEN_END = "due-open-end"
    DUE_BEYOND_RECORD = "due-beyond-record"
    DUE_NO_GROWTH = "due-no-growth"
