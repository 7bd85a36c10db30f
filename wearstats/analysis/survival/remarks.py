"""What may be remarked of curves of hubs still tight."""

from enum import StrEnum


class SurvivalRemark(StrEnum):
    """How a curve or a risk was come by, what can be said of a small group, or why there is nothing."""

    NO_GROUP = "curve-no-fittings"
    NOT_FOLLOWED = "curve-not-followed-so-far"
    NO_NEWS = "curve-nothing-heard"
    NO_FAILURE_NOR_FOLLOWED = "curve-no-failure-nor-followed"
    INTERVALS = "curve-intervals-with-silence"
    INTERVALS_BOUNDED = "curve-intervals-silence-bounded"
    KAPLAN_MEIER = "curve-kaplan-meier"
    FEW_UNKNOWN = "few-of-unknown-state"
    FEW_KNOWN = "few-of-known-state"
    SAID_OF_FEW = "said-of-few"
    SAID_NOTHING_OF_FEW = "said-nothing-of-few"
    SAID_NONE_FAILED = "said-none-failed"
    SAID_NONE_FOLLOWED = "said-none-failed-nor-followed"
    OF_GROUP = "of-group"
    DIFFERENCE = "groups-difference-hybrid"
    ONE_GROUP = "groups-only-one"
    WIDE = "estimator-intervals-wide"
    SILENT = "estimator-much-silence"
    WIDE_AND_SILENT = "estimator-wide-and-silent"
    NEAR_EXACT = "estimator-near-exact"
    NO_REPORT = "report-none-known"
    REPORT_NOT_TOLD = "report-chance-not-told"
    REPORT_PROFILE = "report-chance-profile"
