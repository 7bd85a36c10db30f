"""What the study of the measurements may remark."""

from enum import StrEnum


class GaugingVerdict(StrEnum):
    """What to ask an owner for next."""

    CHECK_PIECE = "gauging-verdict-check-piece"
    OTHER_HAND = "gauging-verdict-other-hand"
    SAME_HAND = "gauging-verdict-same-hand"
    READ_TWICE = "gauging-verdict-read-twice"
    ENOUGH = "gauging-verdict-enough"
