"""What may be remarked of rates, proportions and fourfold tables."""

from enum import StrEnum


class RateRemark(StrEnum):
    """How a rate, a proportion or a comparison of two was come by, or why there is none."""

    NOT_IN_USE = "rate-nothing-in-use"
    POISSON = "rate-exact-poisson"
    NOTHING_HAPPENED = "rates-nothing-happened"
    NOT_OBSERVED = "rates-one-not-observed"
    GIVEN_SUM = "rates-exact-given-sum"
    NOTHING_TO_FORETELL = "count-nothing-to-predict-from"
    ONE_RATE = "count-from-one-rate"
    ONE_RATE_OF_HUBS = "count-of-hubs-from-one-rate"
    NO_FITTINGS = "share-of-no-fittings"
    CLOPPER_PEARSON = "share-clopper-pearson"
    UPPER_BOUND = "share-upper-bound"
    WILSON = "share-wilson"
    NO_ESTIMATE = "pair-without-estimate"
    NO_INTERVAL = "pair-without-interval"
    DIFFERENCE = "pair-difference-hybrid"
    NO_RATIO = "pair-ratio-by-nothing"
    RATIO = "pair-ratio-hybrid"
    EMPTY_MARGIN = "odds-empty-margin"
    CONDITIONAL = "odds-conditional"
    NO_STRATUM_SPEAKS = "strata-none-with-both-outcomes"
    NO_STRATUM_HOLDS_BOTH = "strata-none-with-both-groups"
    NEVER_ALONE = "strata-odds-zero-or-infinite"
    ALL_ALIKE = "strata-all-or-none-failed"
    MANTEL_HAENSZEL = "strata-mantel-haenszel"
    E_VALUE = "e-value-of-ratio"
    NO_E_VALUE = "e-value-nothing-failed"
