"""What the chance of working loose comes to: a function of its numbers."""

from __future__ import annotations

from typing import Any

from wearstats.analysis.estimate import Estimate, may_be_any_share
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.loosening.remarks import LooseningVerdict


def judge_loosening(
    *,
    risk: Estimate,
    slope: Estimate,
    at_limit: Estimate,
    risk_limit: float,
    horizon_months: float,
    failures: int,
) -> Remark:
    """Say up to which gap the chance stays under the limit, where the data show that the gap matters at all.

    Parameters
    ----------
    risk : Estimate
        Chance of having worked loose by the horizon, all fittings together, 0 to 1.
    slope : Estimate
        Change of the log hazard with the gap; none where there is no model of it.
    at_limit : Estimate
        Gap in um at the limit, as `wearstats.analysis.loosening.estimates.gap_at_risk` gives it.
    risk_limit, horizon_months : float
        The chance still accepted, and by when.
    failures : int
        Hubs known to have worked loose.

    Returns
    -------
    Remark
        `LooseningVerdict`.
    """
    told: dict[str, Any] = {"months": horizon_months}
    side = slope.side()
    # without a chance by the horizon nobody was followed so long, and the model would only be drawn out
    if risk.value is None or (side != 1 and may_be_any_share(risk)):
        return remark(LooseningVerdict.UNTOLD, failures=failures, **told)
    if side == 1:
        return _of_gap(at_limit, told | {"limit": risk_limit})
    codes = {None: LooseningVerdict.WITHOUT_GAP, 0: LooseningVerdict.GAP_NOT_SHOWN, -1: LooseningVerdict.BACKWARDS}
    return remark(codes[side], risk=risk.value, low=risk.low, high=risk.high, **told)


def _of_gap(at_limit: Estimate, told: dict[str, Any]) -> Remark:
    if at_limit.value is not None:
        return remark(LooseningVerdict.UP_TO, gap_um=at_limit.value, low_um=at_limit.low, high_um=at_limit.high, **told)
    if at_limit.status == "beyond-data":
        return remark(LooseningVerdict.AT_EVERY_GAP, sure_um=at_limit.low, **told)
    # no gap at all is under the limit by the curve; it may still be by the band
    code = LooseningVerdict.OVER_AT_ANY if at_limit.high is None else LooseningVerdict.OPEN_AT_NONE
    return remark(code, **told)
