"""What may be remarked of gaps and contact."""

from enum import StrEnum


class GapRemark(StrEnum):
    """How a number about a gap was come by."""

    DRAWN_MAPS = "gap-drawn-maps"
    DRAWN_WIDENED = "gap-drawn-maps-widened"
    SHAFTS_ANEW = "contact-shafts-anew"
    PREDICTED = "contact-predicted"
