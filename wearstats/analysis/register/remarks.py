"""What may be remarked of a bore over a register."""

from enum import StrEnum


class BoreRemark(StrEnum):
    """What a bore follows from, or what to do with it."""

    OF_READINGS = "bore-of-readings"
    OF_PATTERN = "bore-of-pattern"
    BEYOND_TABLES = "bore-beyond-tables"
    TURN = "turn-bore"
    TURN_TO = "turn-bore-to"
    GOES_OVER = "bore-goes-over"
    MEASURE_REGISTER = "measure-register-again"
    FAR = "register-far-from-new"
    TOO_WIDE = "bore-too-wide"
    PRESSES = "bore-presses"
    BURSTS = "bore-bursts"
    MAJOR_PROUD = "major-diameter-proud"
