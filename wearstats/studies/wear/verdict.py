"""What the wear comes to: a function of its numbers."""

from __future__ import annotations

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.wear.remarks import WearVerdict

FEW_SHAFTS = 30
"""From so many on wear has a fitted model; of fewer the verdict names their number instead of a tail."""


def judge_wear(*, mean_um: Estimate, one_in_ten_um: Estimate, shafts: int) -> Remark:
    """Say how much the shafts have lost, never more than the interval says.

    Parameters
    ----------
    mean_um : Estimate
        Mean wear.
    one_in_ten_um : Estimate
        What one shaft in ten has lost at least.
    shafts : int
        How many were measured.

    Returns
    -------
    Remark
        `WearVerdict`.
    """
    side = mean_um.side()
    if side is None or mean_um.value is None:
        return remark(WearVerdict.UNTOLD, shafts=shafts)
    told = {"mean_um": mean_um.value, "low_um": mean_um.low, "high_um": mean_um.high}
    if side == 0:
        return remark(WearVerdict.NOT_SHOWN, **told)
    if side < 0:
        return remark(WearVerdict.WIDER_THAN_NEW, **told)
    if shafts < FEW_SHAFTS or one_in_ten_um.value is None:
        return remark(WearVerdict.FEW_SHAFTS, shafts=shafts, **told)
    return remark(WearVerdict.WORN, one_in_ten_um=one_in_ten_um.value, **told)
