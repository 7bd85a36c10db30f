"""A hub is weighed by its chance up to the horizon asked for, and by what a failure up to then costs."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.options import HubOption
from wearstats.analysis.advice.outcomes import FilingHand, FittingPrices
from wearstats.analysis.gaps.posterior import FitDraws, HubSpace
from wearstats.analysis.remark import Remark
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.shaft.costs import Costing
from wearstats.studies.shaft.weighing import Scale

PRICES = FittingPrices(filing_minute=1.0, workshop_fit=90.0, postage=17.0, return_=50.0, failure=440.0)


def a_hundredth_a_month(
    fit: FitDraws, *, months: float, **_given: object
) -> tuple[np.ndarray | None, Remark | None, bool]:
    return np.full(fit.gap_left_um.shape, 0.01 * months), None, False


@pytest.mark.parametrize("months", [6.0, 18.0])
@pytest.mark.parametrize("times", [1.0, 2.0])
def test_chance_and_cost_are_those_of_the_horizon(months: float, times: float) -> None:
    scale = Scale(
        model=cast(RiskModel, SimpleNamespace(draws=a_hundredth_a_month)),
        hand=FilingHand(),
        costing=Costing(prices=PRICES, measure_again=30.0, currency="EUR", assumed=()),
        limits=AdviceLimits(),
        duty=None,
        horizon_months=months,
        risk_limit=0.5,
        hub_normal=np.zeros(4),
        law_normal=np.zeros((4, 1)),
    )
    # an evenly worn shaft and a hub with 10 um of room: it slides on, nothing is filed, nothing comes back
    maps, option = np.full((4, 8, 3), -60.0), HubOption(undersize_um=50.0, space=HubSpace(mean_um=-50.0, sd_um=0.0))
    weighed = scale.weigh(maps, [option]).weighed
    found = scale.decided(maps, weighed, times=times).candidates
    supplied = next(each for each in found if each.method == "as-supplied")
    assert supplied.risk.value == pytest.approx(0.01 * months)
    assert supplied.cost.value == pytest.approx(times * 440.0 * 0.01 * months)
