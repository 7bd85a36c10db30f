"""What may be remarked of one shaft's answer."""

from enum import StrEnum


class ShaftRemark(StrEnum):
    """What to beware of."""

    UNREAD = "splines-never-read"
    HORIZON_CUT = "horizon-cut-to-the-record"
    WORN_SINCE = "worn-since-measured"
    ALL_EQUAL = "inspection-all-equal"
    NO_REGISTER = "register-not-measured"
    ONE_INSPECTION = "one-inspection-in-hand"
    NO_CHECK_PIECE = "no-check-piece"
    TRUST_ASSUMED = "trust-in-owners-assumed"
    CARELESS = "filed-too-far-on-record"
    ERROR_ASSUMED = "filing-error-assumed"
    PACE_ASSUMED = "filing-time-assumed"
    PRICES_ASSUMED = "prices-assumed"
    NO_MODEL = "no-model-of-working-loose"
    MAP = "map-by-linear-prediction"
