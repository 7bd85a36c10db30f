"""What may be remarked of what is counted."""

from enum import StrEnum


class ReturnsRemark(StrEnum):
    """How the returns of a quarter stand, and what they were expected of."""

    QUIET = "returns-quiet"
    WATCH_MORE = "returns-watch-more-than-expected"
    WATCH_FEWER = "returns-watch-fewer-than-expected"
    NOTHING_TO_COMPARE = "returns-nothing-to-compare-with"
    NONE_BACK = "returns-none"
    NOTHING_SENT = "returns-nothing-sent"
    AT_THE_RATE_BEFORE = "returns-at-the-rate-before"


class LeftOutRemark(StrEnum):
    """What is left out of the hubs in use."""

    FITTINGS = "left-out-fittings"
    RETURNS = "left-out-returns-before-sent"
    SENT = "left-out-sent-not-heard-of"
