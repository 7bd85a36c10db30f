"""Whether hubs as supplied fail more: the verdict at its edges, and what to do about it."""

from __future__ import annotations

import pytest

from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import Remark, refused, remark
from wearstats.studies.methods.remarks import MethodsNext, MethodsVerdict
from wearstats.studies.methods.verdict import judge_methods, next_of_methods

NONE = no_estimate(refused("too few"))
DEMO = Estimate(value=0.11, low=0.008, high=0.22)
SENT = Estimate(value=0.076, low=-0.01, high=0.17)
OPEN = Estimate(value=None, low=-0.055, high=0.10, status="bounded")


def verdict(like: Estimate, sent: Estimate = SENT, strict: Estimate = OPEN) -> Remark:
    return judge_methods(like_shafts=like, as_sent=sent, strict=strict, horizon_months=12.0)


@pytest.mark.parametrize(
    ("like", "sent", "strict", "code"),
    [
        # as in the demo: on like shafts yes, as sent and strictly open
        (DEMO, SENT, OPEN, MethodsVerdict.MORE),
        (Estimate(value=-0.11, low=-0.22, high=-0.01), SENT, OPEN, MethodsVerdict.FEWER),
        # an interval that touches nothing does not leave it out
        (Estimate(value=0.11, low=0.0, high=0.22), SENT, OPEN, MethodsVerdict.OPEN),
        (Estimate(value=-0.11, low=-0.22, high=0.0), SENT, OPEN, MethodsVerdict.OPEN),
        # one end only
        (Estimate(value=0.11, low=0.01), SENT, OPEN, MethodsVerdict.MORE),
        (Estimate(value=-0.11, high=-0.01), SENT, OPEN, MethodsVerdict.FEWER),
        (Estimate(value=0.11, high=0.3), NONE, OPEN, MethodsVerdict.UNTOLD),
        # missing, assumed, bounded
        (NONE, SENT, OPEN, MethodsVerdict.OPEN),
        (assumed(0.11, low=0.05, high=0.2, why=refused("so")), NONE, OPEN, MethodsVerdict.UNTOLD),
        (Estimate(value=0.11, low=0.008, high=0.22, status="bounded"), SENT, OPEN, MethodsVerdict.MORE),
        # only as sent, or only by the strict test
        (NONE, Estimate(value=0.08, low=0.01, high=0.15), OPEN, MethodsVerdict.AS_SENT_ONLY),
        (SENT, SENT, Estimate(value=None, low=0.01, high=0.2), MethodsVerdict.AS_SENT_ONLY),
        # against each other
        (DEMO, Estimate(value=-0.08, low=-0.15, high=-0.01), OPEN, MethodsVerdict.AT_ODDS),
        (DEMO, SENT, Estimate(value=None, low=-0.2, high=-0.01), MethodsVerdict.AT_ODDS),
        # all agree that there is none
        (Estimate(value=0.0, low=-0.03, high=0.03), Estimate(value=0.0, low=-0.03, high=0.02), OPEN,
         MethodsVerdict.ALIKE),
        (Estimate(value=0.0, low=-0.05, high=0.05), NONE, NONE, MethodsVerdict.ALIKE),
        (Estimate(value=0.0, low=-0.051, high=0.05), NONE, NONE, MethodsVerdict.OPEN),
        # few data: what is not ruled out is no estimate
        (NONE, NONE, Estimate(value=None, low=-0.41, high=0.55), MethodsVerdict.UNTOLD),
        (NONE, NONE, NONE, MethodsVerdict.UNTOLD),
    ],
)  # fmt: skip
def test_verdict(like: Estimate, sent: Estimate, strict: Estimate, code: MethodsVerdict) -> None:
    assert verdict(like, sent, strict).code == code


def test_all_agree_that_more_fail() -> None:
    told = verdict(DEMO, Estimate(value=0.08, low=0.01, high=0.15), Estimate(value=None, low=0.01, high=0.2))
    assert told == remark(MethodsVerdict.MORE, months=12.0, apart=0.11, strict=True)
    assert verdict(DEMO).facts["strict"] is False


def test_how_small_a_difference_is_ruled_out() -> None:
    told = verdict(Estimate(value=0.01, low=-0.02, high=0.042))
    assert (told.facts["bound"], told.facts["like_told"]) == (0.042, True)


@pytest.mark.parametrize(
    ("code", "same_gap", "then"),
    [
        (MethodsVerdict.MORE, Estimate(value=0.0, low=-0.05, high=0.05), MethodsNext.BY_GAP),
        (MethodsVerdict.MORE, Estimate(value=0.1, low=0.01, high=0.2), MethodsNext.FILE),
        (MethodsVerdict.MORE, Estimate(value=-0.1, low=-0.2, high=-0.01), MethodsNext.BY_GAP),
        (MethodsVerdict.MORE, NONE, MethodsNext.FILE_WHERE_UNKNOWN),
        (MethodsVerdict.FEWER, NONE, MethodsNext.BY_GAP),
        (MethodsVerdict.ALIKE, NONE, MethodsNext.BY_GAP),
        (MethodsVerdict.OPEN, NONE, MethodsNext.UNTIL_SETTLED),
        (MethodsVerdict.AS_SENT_ONLY, NONE, MethodsNext.UNTIL_SETTLED),
        (MethodsVerdict.AT_ODDS, NONE, MethodsNext.UNTIL_SETTLED),
        (MethodsVerdict.UNTOLD, NONE, MethodsNext.KEEP_RECORDS),
    ],
)
def test_what_to_do(code: MethodsVerdict, same_gap: Estimate, then: MethodsNext) -> None:
    assert next_of_methods(remark(code), same_gap=same_gap).code == then
