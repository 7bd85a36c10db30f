"""What may be remarked of the law of working loose."""

from enum import StrEnum


class LooseningRemark(StrEnum):
    """How a number of the law was come by, or why there is none."""

    PROFILE = "law-profile"
    CURVATURE = "law-curvature"
    PENALTY_SHARE = "law-failures-and-penalty"
    REPORTS = "law-failures-reported-and-found"
    NONE_FOUND = "law-none-found-by-asking"
    BY_SHAFTS = "law-scores-of-shafts"
    CROSSING = "gap-where-risk-crosses-limit"
    OVER_LIMIT = "gap-none-under-limit"
    COUNT_EXACT = "count-poisson-binomial"
    COUNT_NORMAL = "count-normal-by-draws"
    COST = "cost-of-failures-drawn"
    CHOICE_FEW = "choice-too-few-measured-again"
    CHOICE = "choice-least-squares"
    SENDERS = "choice-senders-knew"
    RATIO = "gaps-risk-ratio"
    HELD_BACK = "held-back-log-score"
    SAME_GAP = "ways-at-same-gap"
    WITHOUT_GAP = "ways-without-gap"
    WAYS_FEW = "ways-too-few"
    WAYS_APART = "ways-hardly-overlap"
    THROUGH_GAP = "ways-through-gap"
    THROUGH_NOT_TOLD = "ways-through-gap-not-told"
