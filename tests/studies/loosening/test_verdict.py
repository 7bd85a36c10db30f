"""Whether hubs stay tight: the verdict at its edges."""

from __future__ import annotations

import pytest

from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused
from wearstats.studies.loosening.remarks import LooseningVerdict
from wearstats.studies.loosening.verdict import judge_loosening

NONE = no_estimate(refused("too few"))
RISK = Estimate(value=0.11, low=0.081, high=0.16)
SLOPE = Estimate(value=0.53, low=0.34, high=0.74)
LIMIT = Estimate(value=7.2, low=0.0, high=15.0)


@pytest.mark.parametrize(
    ("risk", "slope", "at_limit", "code"),
    [
        (RISK, SLOPE, LIMIT, LooseningVerdict.UP_TO),
        # one end beyond the gaps on record
        (RISK, SLOPE, Estimate(value=7.2, low=2.0, status="bounded"), LooseningVerdict.UP_TO),
        (RISK, SLOPE, Estimate(value=None, low=12.0, status="beyond-data"), LooseningVerdict.AT_EVERY_GAP),
        # over the limit even without a gap: surely, or by the curve alone
        (RISK, SLOPE, Estimate(value=None, status="none"), LooseningVerdict.OVER_AT_ANY),
        (RISK, SLOPE, Estimate(value=None, high=9.0, status="none"), LooseningVerdict.OPEN_AT_NONE),
        # without a slope that surely rises no gap is named
        (RISK, Estimate(value=0.5, low=0.0, high=1.0), LIMIT, LooseningVerdict.GAP_NOT_SHOWN),
        (RISK, Estimate(value=-0.5, low=-0.9, high=-0.1), LIMIT, LooseningVerdict.BACKWARDS),
        (RISK, assumed(0.5, low=0.1, high=0.9, why=refused("penalty")), LIMIT, LooseningVerdict.WITHOUT_GAP),
        (RISK, Estimate(value=0.5, low=0.1), LIMIT, LooseningVerdict.UP_TO),
        (RISK, NONE, NONE, LooseningVerdict.WITHOUT_GAP),
        # few data
        (NONE, NONE, NONE, LooseningVerdict.UNTOLD),
        # nobody was followed so long: the model says nothing of it
        (NONE, SLOPE, LIMIT, LooseningVerdict.UNTOLD),
        (Estimate(value=0.0, low=0.0, high=1.0), SLOPE, LIMIT, LooseningVerdict.UP_TO),
        (Estimate(value=0.0, low=0.0, high=1.0), Estimate(value=0.1, low=-1.5, high=1.7), NONE,
         LooseningVerdict.UNTOLD),
    ],
)  # fmt: skip
def test_verdict(risk: Estimate, slope: Estimate, at_limit: Estimate, code: LooseningVerdict) -> None:
    told = judge_loosening(risk=risk, slope=slope, at_limit=at_limit, risk_limit=0.05, horizon_months=12.0, failures=61)
    assert told.code == code
