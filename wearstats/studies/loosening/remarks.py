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


class LooseningVerdict(StrEnum):
    """Whether hubs stay tight, and up to which gap."""

    UP_TO = "loosening-verdict-up-to-gap"
    AT_EVERY_GAP = "loosening-verdict-under-at-every-gap"
    OVER_AT_ANY = "loosening-verdict-over-at-any-gap"
    OPEN_AT_NONE = "loosening-verdict-open-at-no-gap"
    GAP_NOT_SHOWN = "loosening-verdict-gap-not-shown"
    BACKWARDS = "loosening-verdict-backwards"
    WITHOUT_GAP = "loosening-verdict-without-gap"
    UNTOLD = "loosening-verdict-cannot-be-told"
