"""What may be remarked of measuring."""

from enum import StrEnum


class GaugingRemark(StrEnum):
    """Why a number about measuring is as it is, or is none."""

    ANOVA_POOLED = "gauge-anova-pooled"
    ANOVA_KEPT = "gauge-anova-kept"
    RANGES = "gauge-ranges"
    PAIRS = "gauge-pairs"
    RATIO_ONLY = "gauge-ratio-only"
    TO_WIDTH = "gauge-to-decision-width"
    INTERACTION_POOLED = "gauge-interaction-pooled"
    COMPONENTS = "gauge-components"
    SHARE_LOGIT = "gauge-share-logit"
    ONE_READING_TO_WIDTH = "gauge-one-reading-to-width"
    NO_ERROR = "gauge-no-error"
    WORKSHOP_ZERO = "bias-workshop-zero"
    BIAS_LEAST_SQUARES = "bias-least-squares"
    BIAS_NOT_COMPARED = "bias-not-compared"
    NONE_SHOWN = "scatter-none-shown"
    NO_BIAS_SHOWN = "check-piece-no-bias"
    CHECK_PIECE_STATED = "check-piece-stated"
    CHECK_PIECE = "check-piece-delta-method"


class StrayRemark(StrEnum):
    """Why a reading hardly belongs where it stands, and the slip that would explain it."""

    PLACE = "stray-place"
    SPLINE = "stray-spline"
    STATIONS_EXCHANGED = "stray-stations-exchanged"
    SPLINES_EXCHANGED = "stray-splines-exchanged"
    TAPER_TURNED = "stray-taper-turned"
    THIMBLE_TURN = "slip-thimble-turn"
    INCH_THIMBLE_TURN = "slip-inch-thimble-turn"
    THOUSANDTH = "slip-thousandth"
    THIMBLE_LINE = "slip-thimble-line"
    DIGIT = "slip-digit"
    DIGITS_SWAPPED = "slip-digits-swapped"
