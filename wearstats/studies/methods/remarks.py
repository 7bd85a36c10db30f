"""What the study of the methods may remark."""

from enum import StrEnum


class MethodsStudyRemark(StrEnum):
    """Why a comparison was not made."""

    NO_READINGS = "methods-no-readings-in-hand"
    NO_GAP_LAW = "methods-no-law-of-the-gap"
