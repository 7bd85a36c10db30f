"""What the comparison of the methods comes to, and what to do about it: functions of its numbers."""

from __future__ import annotations

from typing import Any, Final

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.methods.remarks import MethodsNext, MethodsVerdict

ALIKE: Final = 0.05
"""A difference that is surely smaller is called none, the bound beside it (judgement): one hub in twenty."""


def judge_methods(*, like_shafts: Estimate, as_sent: Estimate, strict: Estimate, horizon_months: float) -> Remark:
    """Say whether hubs as supplied fail more; never more than the intervals say.

    Parameters
    ----------
    like_shafts, as_sent, strict : Estimate
        Share that works loose by the horizon, as supplied less fitted by hand: on like shafts, as they were sent, and
        the interval that holds at every look.
    horizon_months : float
        By when.

    Returns
    -------
    Remark
        `MethodsVerdict`.
    """
    like, sent, firm = (each.side() for each in (like_shafts, as_sent, strict))
    told: dict[str, Any] = {"months": horizon_months}
    if len({like, sent, firm} - {0, None}) > 1:
        return remark(MethodsVerdict.AT_ODDS, **told)
    if like:
        code = MethodsVerdict.MORE if like > 0 else MethodsVerdict.FEWER
        return remark(code, apart=like_shafts.value, strict=firm == like, **told)
    if sent or firm:
        return remark(
            MethodsVerdict.AS_SENT_ONLY, more=(sent or firm) == 1, apart=as_sent.value if sent else None,
            like_told=like is not None, **told,
        )  # fmt: skip
    # the strict interval alone is no estimate: it only says what is not ruled out
    best = next((each for each in (like_shafts, as_sent) if each.side() == 0), None)
    if best is None or best.low is None or best.high is None:
        return remark(MethodsVerdict.UNTOLD, **told)
    bound = max(abs(best.low), abs(best.high))
    if bound <= ALIKE:
        return remark(MethodsVerdict.ALIKE, bound=bound, like_told=like is not None, **told)
    return remark(MethodsVerdict.OPEN, low=best.low, high=best.high, **told)


def next_of_methods(verdict: Remark, *, same_gap: Estimate) -> Remark:
    """Say what to do about it.

    Parameters
    ----------
    verdict : Remark
        As `judge_methods` gives it.
    same_gap : Estimate
        The difference at the same gap left.

    Returns
    -------
    Remark
        `MethodsNext`.
    """
    if verdict.code == MethodsVerdict.UNTOLD:
        return remark(MethodsNext.KEEP_RECORDS)
    if verdict.code in (MethodsVerdict.FEWER, MethodsVerdict.ALIKE):
        return remark(MethodsNext.BY_GAP)
    if verdict.code != MethodsVerdict.MORE:
        return remark(MethodsNext.UNTIL_SETTLED)
    side = same_gap.side()
    if side == 1:
        return remark(MethodsNext.FILE)
    return remark(MethodsNext.FILE_WHERE_UNKNOWN if side is None else MethodsNext.BY_GAP)
