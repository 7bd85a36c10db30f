"""What measuring again is worth: by hand where it can be worked out, and against drawing readings one by one."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.measuring import _best, saved_by_measuring
from wearstats.analysis.advice.options import HubOption, Weighed, follows_of, weigh
from wearstats.analysis.advice.outcomes import FilingHand, FittingPrices
from wearstats.analysis.advice.remarks import Refusal
from wearstats.analysis.gaps.posterior import FitDraws, hub_space
from wearstats.analysis.remark import Remark

LIMITS = AdviceLimits()
PRICES = FittingPrices(filing_minute=1.0, workshop_fit=90.0, postage=17.0, return_=50.0, failure=440.0)


def risk(fit: FitDraws, _method: str) -> tuple[np.ndarray, Remark | None, bool]:
    return -np.expm1(-0.03 * np.exp(0.05 * (fit.gap_left_um - 10.0))), None, False


def shaft(sd_um: float, *, draws: int = 400) -> tuple[np.ndarray, list[Weighed]]:
    rng = np.random.default_rng(1)
    half = rng.standard_normal(draws // 2)
    level = -60.0 + sd_um * np.concatenate([half, -half])
    maps = level[:, None, None] + 3.0 * rng.standard_normal((1, 8, 3))
    options = [HubOption(undersize_um=um, space=hub_space(nominal_um=10.0 - um)) for um in (25.0, 50.0, 75.0, 100.0)]
    weighed = weigh(
        maps,
        options,
        risk=risk,
        hand=FilingHand(),
        limits=LIMITS,
        prices=PRICES,
        hub_normal=np.random.default_rng(2).standard_normal(draws),
    )
    return maps.mean(axis=(1, 2)), weighed


def saved(sd_um: float, error_um: float) -> float:
    width, weighed = shaft(sd_um)
    return saved_by_measuring(weighed, width, error_sd_um=error_um, prices=PRICES, limit=0.05, limits=LIMITS)


def test_what_is_known_already_is_worth_nothing_to_measure() -> None:
    assert saved(0.5, 5.0) == pytest.approx(0.0, abs=0.5)


def test_a_worthless_measurement_saves_nothing() -> None:
    assert saved(12.0, 400.0) == pytest.approx(0.0, abs=0.5)


def test_it_is_worth_more_the_less_is_known_and_the_better_it_is() -> None:
    assert saved(18.0, 4.0) > saved(9.0, 4.0)
    assert saved(18.0, 4.0) > saved(18.0, 15.0) >= 0.0


# under the second limit no hub stays, and the cheapest of those about as safe as can be is sent
@pytest.mark.parametrize("limit", [0.05, 0.001])
def test_it_agrees_with_drawing_readings_one_by_one(limit: float) -> None:
    # independently: a true map is taken, a reading drawn of it, the draws near that reading kept, the rule applied
    width, weighed = shaft(15.0, draws=4000)
    told = saved_by_measuring(weighed, width, error_sd_um=5.0, prices=PRICES, limit=limit, limits=LIMITS)
    rng = np.random.default_rng(3)
    follows = follows_of(weighed, PRICES)
    costs = np.stack([each.costs(PRICES, follows=follows) for each in weighed])

    def best(keep: np.ndarray) -> float:
        weights = keep / keep.sum()
        sound = []
        for each, cost in zip(weighed, costs, strict=True):
            assert each.risk is not None
            refused = each.refused(limit, LIMITS, weights)
            if not any(bool(no) for why, no in refused.items() if why != Refusal.OVER_LIMIT):
                sound.append((float(each.risk @ weights), float(cost @ weights)))
        least = min((chance for chance, _ in sound), default=np.inf)
        may = max(limit, least * 1.1) if least > limit else limit
        return min((cost for chance, cost in sound if chance <= may), default=np.inf)

    now = best(np.ones(width.size))
    then = []
    for true in rng.choice(width, 300):
        read = true + 5.0 * rng.standard_normal()
        then.append(best(np.exp(-0.5 * ((width - read) / 5.0) ** 2)))
    finite = np.array([cost for cost in then if np.isfinite(cost)])
    assert finite.size > 290
    assert told == pytest.approx(max(now - finite.mean(), 0.0), abs=4 * finite.std() / np.sqrt(finite.size) + 2.0)
    assert told > 5.0


def test_filing_takes_the_minutes_that_its_depth_takes_however_many_stations_were_measured() -> None:
    _, weighed = shaft(12.0)
    for each in weighed:
        if each.method != "as-supplied" and each.second_um is None:
            # a trial of six minutes for each 15 um of the deepest place and the first, and 0.2 a um over the splines
            trials = 1 + np.ceil(each.fit.largest_filing_um / 15)
            minutes = np.where(each.fit.largest_filing_um > 0, 6 * trials + 0.2 * each.fit.total_filing_um / 3, 0.0)
            assert each.outcomes.minutes == pytest.approx(minutes)


def test_a_hub_that_any_demand_of_safety_refuses_is_not_sent_however_cheap() -> None:
    yes, no = np.array([True, False]), np.array([False, False])
    # by two readings: refused for one reason of two under the first, for none under the second
    told = {Refusal.SHAKES: yes, Refusal.FORCED: no, Refusal.OVER_LIMIT: no}
    cheap = SimpleNamespace(risk=np.array([0.01, 0.01]), refused=lambda *_: told)
    sound = SimpleNamespace(risk=np.array([0.01, 0.01]), refused=lambda *_: dict.fromkeys(told, no))
    costs, weights = np.array([[10.0, 10.0], [70.0, 70.0]]), np.full((2, 2), 0.5)
    known = cast(list[Weighed], [cheap, sound])
    assert _best(known, costs, weights, limit=0.05, limits=LIMITS).tolist() == [70.0, 10.0]
    # over the limit it may go where nothing is safer by a tenth
    assert _best(known, costs, weights, limit=0.001, limits=LIMITS).tolist() == [70.0, 10.0]
