"""What may be remarked of the comparison of the methods."""

from enum import StrEnum


class MethodsRemark(StrEnum):
    """How the methods were compared, or why they were not."""

    ONE_GROUP_EMPTY = "methods-one-group-empty"
    EVIDENCE = "methods-evidence-by-quarter"
    LIKE_SHAFTS = "methods-on-like-shafts"
    WEIGHTS_ALONE = "methods-weights-alone"
    LINES_ALONE = "methods-outcome-lines-alone"
    TOO_FEW = "methods-too-few-fittings"
    NOT_FOLLOWED = "methods-not-followed-so-long"
    HARDLY_EVER = "methods-hardly-ever-the-other"
    WORTH_FEW = "methods-weighted-worth-few"
    NOT_ALIKE = "methods-weights-leave-unlike"
    DIFFERENCE_NOT_TOLD = "more-fittings-difference-not-told"
    ZERO_LEFT_OUT = "more-fittings-zero-left-out"
    NO_DIFFERENCE_SEEN = "more-fittings-no-difference-seen"
    LOOKED_AT_ONCE = "more-fittings-looked-at-once"
    SETTLED = "more-fittings-settled"
    NONE_OF_BOTH = "more-fittings-none-of-both"
    LOOKED_AT_EVERY_QUARTER = "more-fittings-looked-at-every-quarter"
    TOO_MANY_QUARTERS = "more-fittings-too-many-quarters"
