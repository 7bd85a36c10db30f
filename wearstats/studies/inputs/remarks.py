"""What may be remarked of the records."""

from enum import StrEnum


class RecordRemark(StrEnum):
    """What is to be known of the records before anything is read from them."""

    ENDS_EARLY = "records-end-early"
    OUTCOMES_END = "outcomes-end-early"
    OUTCOMES_STATED_TO = "outcomes-stated-to"
    REGIONS_END = "regions-end-early"
