"""Whether hubs bore where that was predicted: the verdicts at their edges."""

from __future__ import annotations

import pytest

from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused
from wearstats.studies.gaps.contact_verdict import judge_contact, judge_fitting
from wearstats.studies.gaps.remarks import ContactVerdict, FittingVerdict

NONE = no_estimate(refused("too few"))
ALIKE = Estimate(value=0.02, low=-0.02, high=0.05)
STRAIGHT = Estimate(value=0.97, low=0.9, high=1.04)
WELL = Estimate(value=0.93, low=0.87, high=0.97)


@pytest.mark.parametrize(
    ("difference", "slope", "covered", "code"),
    [
        (ALIKE, STRAIGHT, WELL, ContactVerdict.AS_PREDICTED),
        # the demo's
        (ALIKE, Estimate(value=0.85, low=0.75, high=0.92), WELL, ContactVerdict.LESS_EXTREME),
        (ALIKE, Estimate(value=1.2, low=1.1, high=1.3), WELL, ContactVerdict.MORE_EXTREME),
        (Estimate(value=0.1, low=0.02, high=0.17), STRAIGHT, WELL, ContactVerdict.MORE_MARKED),
        (Estimate(value=-0.1, low=-0.17, high=-0.02), STRAIGHT, WELL, ContactVerdict.FEWER_MARKED),
        # ends that only touch
        (Estimate(value=0.1, low=0.0, high=0.17), Estimate(value=0.9, low=0.8, high=1.0), WELL,
         ContactVerdict.AS_PREDICTED),
        (ALIKE, STRAIGHT, Estimate(value=0.8, low=0.7, high=0.89), ContactVerdict.SINGLY_WIDE),
        (ALIKE, STRAIGHT, Estimate(value=0.8, low=0.7, high=0.9), ContactVerdict.AS_PREDICTED),
        (ALIKE, NONE, NONE, ContactVerdict.AS_PREDICTED),
        (NONE, STRAIGHT, WELL, ContactVerdict.UNTOLD),
        (assumed(0.1, low=0.02, high=0.2, why=refused("so")), STRAIGHT, WELL, ContactVerdict.UNTOLD),
        (Estimate(value=0.1, low=0.02), STRAIGHT, WELL, ContactVerdict.MORE_MARKED),
    ],
)  # fmt: skip
def test_verdict(difference: Estimate, slope: Estimate, covered: Estimate, code: ContactVerdict) -> None:
    assert judge_contact(difference=difference, slope=slope, covered=covered).code == code


@pytest.mark.parametrize(
    ("predicted", "marked", "code"),
    [
        ((0.9, 0.6, 1.0), 0.7, FittingVerdict.AGREES),
        ((0.9, 0.6, 1.0), 0.6, FittingVerdict.AGREES),
        ((0.5, 0.25, 0.75), 0.0, FittingVerdict.FEWER),
        ((0.5, 0.1, 0.8), 0.0, FittingVerdict.WIDTHS_OPEN),
        ((1.0, 1.0, 1.0), 0.8, FittingVerdict.FEWER_BUT_ENOUGH),
        ((1.0, 1.0, 1.0), 0.79, FittingVerdict.FEWER),
        ((0.0, 0.0, 0.0), 0.3, FittingVerdict.MORE),
    ],
)
def test_one_fitting(predicted: tuple[float, float, float], marked: float, code: FittingVerdict) -> None:
    value, low, high = predicted
    assert judge_fitting(predicted=Estimate(value=value, low=low, high=high), marked=marked).code == code


def test_one_fitting_of_which_no_range_is_known() -> None:
    assert judge_fitting(predicted=Estimate(value=0.5), marked=0.1).code == FittingVerdict.WIDTHS_OPEN
