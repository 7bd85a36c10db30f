"""What may be remarked of wear as the store has it."""

from enum import StrEnum


class WearStudyRemark(StrEnum):
    """Why a number is none or assumed, what rests on assumptions, or why states of shafts are left out."""

    NO_RATE = "growth-few-measured-again"
    MIDWAY = "growth-loose-midway"
    NO_LARGER_SIZE = "due-no-larger-size"
    HOURS_BACKWARDS = "hours-backwards"
    HOURS_DIFFER = "hours-differ"
    NO_HOURS = "hours-missing"
    SPREADS_ASSUMED = "spreads-assumed"


class WearVerdict(StrEnum):
    """How worn the shafts are."""

    WORN = "wear-verdict-worn"
    FEW_SHAFTS = "wear-verdict-few-shafts"
    NOT_SHOWN = "wear-verdict-not-shown"
    WIDER_THAN_NEW = "wear-verdict-wider-than-new"
    UNTOLD = "wear-verdict-cannot-be-told"
