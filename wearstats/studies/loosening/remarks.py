"""What may be remarked of the answer on working loose."""

from enum import StrEnum


class LooseningStudyRemark(StrEnum):
    """How an answer was come by, or why there is none."""

    COMPARED = "groupings-compared"
    FEW_FAILURES = "law-of-few-failures"
    OVER_RECORD = "law-over-record"
    EFFECT = "law-effect"
    GAP_BEYOND_RECORD = "hub-gap-beyond-record"
    TIME_BEYOND_RECORD = "hub-time-beyond-record"
    OF_HUB = "hub-by-law"
    CHANCE_NOT_KNOWN = "hub-chance-not-known"
    GEOMETRY_ALONE = "hub-by-geometry-alone"
