"""How worn the shafts are: the verdict at its edges."""

from __future__ import annotations

import pytest

from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused
from wearstats.studies.wear.remarks import WearVerdict
from wearstats.studies.wear.verdict import FEW_SHAFTS, judge_wear

NONE = no_estimate(refused("too few"))
TAIL = Estimate(value=68.0, low=63.0, high=78.0)
MEAN = Estimate(value=31.0, low=28.0, high=35.0)


@pytest.mark.parametrize(
    ("mean", "tail", "shafts", "code"),
    [
        (MEAN, TAIL, 425, WearVerdict.WORN),
        (MEAN, TAIL, FEW_SHAFTS, WearVerdict.WORN),
        (MEAN, TAIL, FEW_SHAFTS - 1, WearVerdict.FEW_SHAFTS),
        (MEAN, NONE, 425, WearVerdict.FEW_SHAFTS),
        (Estimate(value=3.0, low=0.0, high=6.0), TAIL, 425, WearVerdict.NOT_SHOWN),
        (Estimate(value=3.0, low=1.0), TAIL, 425, WearVerdict.WORN),
        (Estimate(value=3.0, high=6.0), TAIL, 425, WearVerdict.NOT_SHOWN),
        (Estimate(value=-4.0, low=-6.0, high=-1.0), TAIL, 425, WearVerdict.WIDER_THAN_NEW),
        (assumed(31.0, low=28.0, high=35.0, why=refused("so")), TAIL, 425, WearVerdict.UNTOLD),
        (NONE, NONE, 2, WearVerdict.UNTOLD),
    ],
)
def test_verdict(mean: Estimate, tail: Estimate, shafts: int, code: WearVerdict) -> None:
    assert judge_wear(mean_um=mean, one_in_ten_um=tail, shafts=shafts).code == code
