"""What may be remarked of contact and slack, predicted and found."""

from enum import StrEnum


class ContactVerdict(StrEnum):
    """Whether hubs bore where that was predicted, over all fittings."""

    AS_PREDICTED = "contact-verdict-as-predicted"
    LESS_EXTREME = "contact-verdict-less-extreme"
    MORE_EXTREME = "contact-verdict-more-extreme"
    MORE_MARKED = "contact-verdict-more-marked"
    FEWER_MARKED = "contact-verdict-fewer-marked"
    SINGLY_WIDE = "contact-verdict-singly-wide"
    UNTOLD = "contact-verdict-cannot-be-told"


class FittingVerdict(StrEnum):
    """Whether one hub did."""

    AGREES = "fitting-verdict-agrees"
    WIDTHS_OPEN = "fitting-verdict-widths-open"
    FEWER_BUT_ENOUGH = "fitting-verdict-fewer-but-enough"
    FEWER = "fitting-verdict-fewer"
    MORE = "fitting-verdict-more"


class SlackRemark(StrEnum):
    """Whether hubs were found slack on trial as often as was to be expected, and what that rests on."""

    AS_EXPECTED = "slack-on-trial-as-expected"
    FEWER = "slack-on-trial-fewer"
    MORE = "slack-on-trial-more"
    BY_READINGS = "slack-on-trial-by-readings"
