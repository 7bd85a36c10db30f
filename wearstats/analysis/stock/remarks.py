"""What may be remarked of sizes, demand and quantities."""

from enum import StrEnum


class StockRemark(StrEnum):
    """How a number of the stock was come by, or why there is none."""

    TOO_FEW_QUARTERS = "stock-too-few-quarters"
    PAIRED_QUARTERS = "stock-paired-quarters"
    DRAWN_ANEW = "stock-shafts-and-laws-drawn-anew"
    SHAFTS_ANEW = "stock-shafts-drawn-anew"
    MEAN_OVER_SHAFTS = "stock-mean-over-shafts"
    COURSES_WEIGHED = "stock-courses-weighed"
    STAGES_SIMULATED = "stock-stages-simulated"
    TOO_NEAR = "stock-size-too-near-one-kept"
    SAVES_LITTLE = "stock-size-saves-too-little"
