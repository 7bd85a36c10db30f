"""Why a fitting has no history."""

from enum import StrEnum


class HistoryRemark(StrEnum):
    """Why a fitting is left out; the first that holds is given."""

    BEFORE_SENT = "fitted-before-sent"
    UNDATED = "fitting-undated"
    NEWS_BEFORE = "news-before-fitting"
    TIGHT_AFTER = "tight-after-end"
    WOULD_NOT_YET_RAN = "would-not-yet-ran"
    OVERLAPS = "two-at-once"
    KNOWN_LATE = "known-because-ended"
