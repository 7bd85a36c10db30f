"""What the study of the stock may remark."""

from enum import StrEnum


class StockStudyRemark(StrEnum):
    """What demand and habit were taken from."""

    COURSES_DIVIDED = "stock-courses-divided-by-shares"
    AS_MANY_AS_SHAFTS = "stock-as-many-as-shafts"
    NEEDED_BY_NOW = "stock-needed-by-now"
    NEEDED_ON_RECORD = "stock-needed-on-record"
    HABIT_SENT = "stock-habit-sent-a-year-before"
    HABIT_MADE = "stock-habit-made-a-year-before"


class MakeRemark(StrEnum):
    """Why so many of a size are to be made, and the parts of that."""

    NO_LONGER_KEPT = "make-no-longer-kept"
    TOO_FEW = "make-too-few-for-a-set-up"
    TIGHTER_SERVE = "make-tighter-ones-serve"
    ENOUGH = "make-enough-on-hand"
    MORE = "make-more"
    MORE_LATE = "make-more-that-may-come-late"
    NEEDED = "make-needed-until-a-later-batch"
    LASTS = "make-lasts"
    LASTS_FILED_OUT = "make-lasts-with-tighter-ones"
    UNTIL = "make-until"
    BEYOND = "make-beyond"


class MakeAssumption(StrEnum):
    """What the number to make rests on."""

    PRICES = "make-assumes-prices"
    UNSERVED = "make-assumes-cost-of-unserved"
    LOST_COUNT = "make-assumes-lost-were-needed"
    TIMES = "make-assumes-times"
    SHARES_STAY = "make-assumes-shares-stay"
    FILED_OUT = "make-assumes-filed-out"
    NOT_FILED_OUT = "make-assumes-not-filed-out"
    NEVER_COUNTED = "make-assumes-never-counted"
