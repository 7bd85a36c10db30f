"""What may be remarked of failures watched."""

from enum import StrEnum


class MonitoringRemark(StrEnum):
    """How seen over expected was come by, or why it is not known."""

    NOTHING_EXPECTED = "nothing-expected-yet"
    RATIO_AT_EVERY_LOOK = "ratio-holds-at-every-look"
