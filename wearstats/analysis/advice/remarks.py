"""What may be remarked of an advice."""

from enum import StrEnum


class First(StrEnum):
    """What comes first, in the order in which it is asked."""

    DO_NOT_RUN = "do-not-run"
    STOP_AND_CHECK = "stop-and-check"
    SEND_SHAFT_HERE = "send-shaft-here"
    NOTHING_TO_SEND = "nothing-to-send"
    DRESS_AND_MEASURE = "dress-and-measure"
    MEASURE_AGAIN = "measure-again"
    MEASURE_FIRST = "measure-first"


class Finding(StrEnum):
    """What was found on a shaft or in its records that comes before any hub."""

    CRACKED = "found-cracked"
    SHAFT_BROKE = "shaft-broke"
    SCRAPPED = "shaft-scrapped"
    CRACK_REMARKED = "remark-speaks-of-a-crack"
    HUB_LOOSE = "hub-in-use-reported-loose"
    HUB_WITHDRAWN = "hub-in-use-of-a-withdrawn-batch"
    SENT_WITHDRAWN = "hub-sent-of-a-withdrawn-batch"
    SENT_SPOILED = "hub-sent-that-came-back-spoiled"
    HUB_MAY_BE_LOOSE = "hub-in-use-may-be-loose"
    TWISTED = "found-twisted"
    HUB_UNHEARD = "hub-in-use-not-heard-of"
    SENT_UNHEARD = "hub-sent-not-heard-of"
    HUB_TIGHT = "hub-in-use-heard-tight"
    DAMAGED = "found-damaged"
    STRAY_READING = "reading-hardly-belongs"
    LEVEL_OFF = "all-readings-off"
    CALIPERS = "calipers-only"
    APART = "inspections-contradict"
    ALL_EQUAL = "readings-all-the-same"
    FEW_READ = "few-places-read"
    INSPECTION_KEPT_OUT = "inspection-kept-out"
    REJECTED = "rows-kept-out"
    CHANGED_SINCE = "changed-since-measured"
    CAME_LOOSE_SINCE = "came-loose-since-measured"
    WORTH_MEASURING = "measuring-saves-more-than-it-costs"


NO_HUB = frozenset({First.DO_NOT_RUN, First.SEND_SHAFT_HERE})
"""After these no hub is named at all, whatever anybody asks."""

NO_SIZE = frozenset({Finding.LEVEL_OFF, Finding.CALIPERS, Finding.APART, Finding.ALL_EQUAL, Finding.CHANGED_SINCE})
"""After these the readings are good for no size: of two that contradict each other the mean fits neither, and a shaft
that was replaced or ground is another."""


class Refusal(StrEnum):
    """Why a hub may not be sent, in the order in which they are told."""

    SHAKES = "may-shake"
    FORCED = "would-be-forced"
    TOO_DEEP = "filing-too-deep"
    NOT_AN_OWNERS = "too-much-for-an-owner"
    BEYOND_RECORD = "gap-beyond-the-record"
    OVER_LIMIT = "over-the-limit"


class Reason(StrEnum):
    """Why a hub is chosen, or none."""

    CHEAPEST = "cheapest-under-the-limit"
    AT_LIMIT = "cheapest-at-the-limit"
    LEAST_CHANCE = "least-chance-is-over-the-limit"
    NOTHING_KNOWN = "loosest-with-a-small-gap"
    NO_HUB_HOLDS = "nothing-within-twice-the-limit"
    NONE_TIGHT = "none-is-sure-to-be-tight"
    TOO_DEEP = "every-tight-one-filed-too-deep"


class AdviceRemark(StrEnum):
    """How a number of an advice was come by."""

    COST = "cost-of-what-becomes-of-it"
    COST_UNKNOWN = "cost-unknown-without-chance"
    RISK = "chance-by-model-gap-and-doubt"
