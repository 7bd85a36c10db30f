"""What the study of the methods may remark."""

from enum import StrEnum


class MethodsStudyRemark(StrEnum):
    """Why a comparison was not made."""

    NO_READINGS = "methods-no-readings-in-hand"
    NO_GAP_LAW = "methods-no-law-of-the-gap"


class MethodsVerdict(StrEnum):
    """Whether hubs sent as supplied fail more."""

    MORE = "methods-verdict-more"
    FEWER = "methods-verdict-fewer"
    AS_SENT_ONLY = "methods-verdict-as-sent-only"
    AT_ODDS = "methods-verdict-at-odds"
    ALIKE = "methods-verdict-alike"
    OPEN = "methods-verdict-open"
    UNTOLD = "methods-verdict-cannot-be-told"


class MethodsNext(StrEnum):
    """What to do about it."""

    BY_GAP = "methods-next-by-gap"
    FILE = "methods-next-file"
    FILE_WHERE_UNKNOWN = "methods-next-file-where-gap-unknown"
    UNTIL_SETTLED = "methods-next-until-settled"
    KEEP_RECORDS = "methods-next-keep-records"
