"""What contact predicted and contact marked come to, over all fittings and for one: functions of their numbers."""

from __future__ import annotations

from typing import Final

from wearstats.analysis.advice.options import GRIPPED
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.gaps.remarks import ContactVerdict, FittingVerdict

TELLS_NOTHING: Final = 0.6
"""Width of a predicted range that says next to nothing of a share (judgement)."""

COVERED: Final = 0.9
"""Of ranges meant to hold 95 in 100, so many should; below that surely, single hubs lie too far off (judgement)."""


def judge_contact(*, difference: Estimate, slope: Estimate, covered: Estimate) -> Remark:
    """Say whether hubs bore where that was predicted.

    Parameters
    ----------
    difference : Estimate
        Share of sides marked less predicted, on average.
    slope : Estimate
        Change of the marked share where the predicted one changes by one.
    covered : Estimate
        Share of fittings whose marked share lies in its predicted range.

    Returns
    -------
    Remark
        `ContactVerdict`.
    """
    side = difference.side()
    if side is None or difference.value is None:
        return remark(ContactVerdict.UNTOLD)
    if side:
        code = ContactVerdict.MORE_MARKED if side > 0 else ContactVerdict.FEWER_MARKED
        return remark(code, apart=abs(difference.value))
    steep = slope.side(1.0)
    if steep:
        return remark(ContactVerdict.LESS_EXTREME if steep < 0 else ContactVerdict.MORE_EXTREME)
    if covered.side(COVERED) == -1:
        return remark(ContactVerdict.SINGLY_WIDE, covered=covered.value)
    return remark(ContactVerdict.AS_PREDICTED)


def judge_fitting(*, predicted: Estimate, marked: float) -> Remark:
    """Say whether one hub bore where that was predicted.

    Parameters
    ----------
    predicted : Estimate
        Share of its sides that bear, 0 to 1.
    marked : float
        Share of its sides on which marks were noted.

    Returns
    -------
    Remark
        `FittingVerdict`.
    """
    low, high = predicted.low, predicted.high
    if low is None or high is None or high - low > TELLS_NOTHING:
        return remark(FittingVerdict.WIDTHS_OPEN)
    if marked < low - 1e-9:
        return remark(FittingVerdict.FEWER_BUT_ENOUGH if marked >= GRIPPED else FittingVerdict.FEWER)
    return remark(FittingVerdict.MORE if marked > high + 1e-9 else FittingVerdict.AGREES)
