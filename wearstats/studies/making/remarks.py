"""What may be remarked on a making list."""

from enum import StrEnum


class LimitsFrom(StrEnum):
    """What the limits of the space follow from."""

    SPREAD = "making-limits-from-spread"
    PLUGS = "making-limits-from-plugs"
    STEP = "making-limits-from-step"
    GRADE = "making-limits-from-grade"


class MakingRemark(StrEnum):
    """What whoever makes the hubs should know."""

    WIDER_THAN_STEP = "making-spread-wider-than-step"
    CAME_OUT_OFF = "making-batches-came-out-off"
    CAME_OUT_RIGHT = "making-batches-came-out-right"
    MISFITS = "making-registers-did-not-suit"
    NOTHING_LEARNT = "making-nothing-learnt"
