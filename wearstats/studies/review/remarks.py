"""What may be remarked in the review, and of calls."""

from enum import StrEnum


class VerdictRemark(StrEnum):
    """How a quarter stands against what was expected of it."""

    QUIET = "verdict-quiet"
    WATCH_MORE = "verdict-watch-more-than-expected"
    WATCH_FEWER = "verdict-watch-fewer-than-expected"
    ALARM = "verdict-alarm"
    NOTHING_TO_COMPARE = "verdict-nothing-to-compare-with"
    NO_HUB = "verdict-no-hub-in-use"


class CallsVerdict(StrEnum):
    """Whom to call now."""

    WARN = "calls-warn"
    ASK = "calls-ask"
    ASK_BY_DUE_DAY = "calls-ask-by-due-day"
    NOBODY = "calls-nobody"


class ActionRemark(StrEnum):
    """What an action is done to, and the finding behind it."""

    BATCH_WITHDRAWN = "action-batch-withdrawn"
    OWNERS_TO_WARN = "action-owners-to-warn"
    LIKELY_LOOSE = "action-likely-loose"
    BATCH = "action-batch"
    BATCH_WIDE = "action-batch-wide"
    BATCH_WIDE_BY_PLUG = "action-batch-wide-by-plug"
    BATCH_LOOSE = "action-batch-loose"
    BATCH_AT_ODDS = "action-batch-at-odds"
    SENDING_AS_SUPPLIED = "action-sending-as-supplied"
    GAP_AT_RISK = "action-gap-at-risk"
    RATE = "action-rate"
    RATE_CHANGED = "action-rate-changed"
    GROUP = "action-group"
    GROUP_CHANGED = "action-group-changed"
    SINCE = "action-failures-since"
    ALARM = "action-alarm"
    OWNERS_TO_ASK = "action-owners-to-ask"
    SILENTLY_LOOSE = "action-silently-loose"
    ASKED_BY_NOW = "action-asked-by-now"
    LOANS_OVERDUE = "action-loans-overdue"
    LOAN_LONGEST = "action-loan-overdue-longest"
    SIZES_TO_MAKE = "action-sizes-to-make"
    SHELF_AND_DEMAND = "action-shelf-and-demand"


class RiskRemark(StrEnum):
    """Why a hub may be loose: of its gap; the facts say how long it runs and since when no word came."""

    WIDE_GAP = "risk-wide-gap"
    NO_WIDE_GAP = "risk-no-wide-gap"
    GAP_NOT_KNOWN = "risk-gap-not-known"
    SILENT = "risk-silent"
    NEVER_HEARD = "risk-never-heard"


class CallRemark(StrEnum):
    """Why an owner is called, and how the risk was come by."""

    WITHDRAWN = "call-batch-withdrawn"
    MAY_BE_LOOSE = "call-may-be-loose"
    NOT_YET_WARNED = "call-not-yet-warned"
    OVERDUE = "call-overdue"
    NOT_YET_DUE = "call-not-yet-due"
    RISK = "call-risk-of-law"
    NO_RISK = "call-no-risk"
