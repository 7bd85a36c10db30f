"""What may be remarked of variances fitted by restricted maximum likelihood."""

from enum import StrEnum


class RemlRemark(StrEnum):
    """How a variance and its interval were come by."""

    PLAIN = "reml"
    LOG_SCALE = "reml-log-scale"
    CURVATURE = "reml-curvature"
    PROFILE = "reml-profile"
    SATTERTHWAITE = "reml-satterthwaite"
    SUM_LOG_SCALE = "reml-sum-log-scale"
    STATED = "stated-limit-unidentified"
