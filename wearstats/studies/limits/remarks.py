"""What may be remarked of standard fits."""

from enum import StrEnum


class LimitsRemark(StrEnum):
    """Where the limits come from."""

    ISO_14 = "limits-iso-14"
    BY_WIDTH = "limits-by-width"
    TOO_WIDE = "limits-no-class"


class LimitsVerdict(StrEnum):
    """What the tightest standard fit gives."""

    MAY_RATTLE = "limits-verdict-may-rattle"
    HOLDS = "limits-verdict-holds"
