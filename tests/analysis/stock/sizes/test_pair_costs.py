"""What a pair of shaft and size costs: against the same sums written out draw by draw, of evenly worn shafts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import FilingHand, FittingPrices
from wearstats.analysis.gaps.posterior import HubSpace
from wearstats.analysis.loosening.predictor import LineTerm, LooseningLaw
from wearstats.analysis.stock.sizes.pair_costs import PairCosts, price_pairs
from wearstats.domain.tables import METHODS

SPLINES, STATIONS = 8, 3
LIMITS, HAND = AdviceLimits(), FilingHand()
PRICES = FittingPrices(filing_minute=0.7, workshop_fit=60.0, postage=17.0, return_=50.0, failure=440.0)
UNSERVED, MONTHS = 230.0, 18.0
# widths of two shafts below new, drawn five times: the first is told well, the second badly
WIDTHS = -np.array([[31.0, 33, 34, 35, 37], [36.0, 48, 60, 75, 90]])
SIZES = (20.0, 35.0, 45.0, 60.0, 90.0)
LAW = LooseningLaw(
    names=("heavy",),
    covariate_means=np.array([0.4]),
    parameters=np.array([-3.2, 0.5, 0.3, math.log(1.4), 0.0]),
    covariance=np.zeros((5, 5)),
    term=LineTerm(centre_um=10.0),
)
BESIDE = {method: np.array([[0.6], [-0.4]]) for method in METHODS}


@dataclass
class Plain:
    """One pair by one method, summed by hand."""

    work: float = 0.0
    back: float = 0.0
    chance: float = 0.0
    failing: float = 0.0
    minutes: float = 0.0
    shakes: int = 0
    forced: int = 0
    deep: int = 0
    owners_deep: int = 0


def plain(shaft: int, size: float, method: str) -> Plain:
    """Follow a hub through every draw: it goes on, is filed, comes back or stays, and works loose or not."""
    told, draws = Plain(), len(WIDTHS[shaft])
    for width in WIDTHS[shaft]:
        gap, filed = max(-size - width, 0.0), max(width + size, 0.0)
        filed = 0.0 if method == "as-supplied" else filed
        deepest = max(width + size, 0.0)
        minutes = 6 * (1 + math.ceil(filed / 15)) + 0.2 * SPLINES * filed if filed > 0 else 0.0
        spread = (0.5 if method == "workshop-fitted" else 1.0) * (3 + 0.08 * filed)
        too_far = math.erfc((LIMITS.play_um - gap) / (spread * math.sqrt(2))) if filed > 0 else 0.0
        slack, stuck = gap > LIMITS.play_um, method == "as-supplied" and deepest > LIMITS.slide_um
        back = 1.0 if slack or stuck else too_far
        line = -3.2 + 0.5 * (gap - 10) / 10 + 0.3 * BESIDE[method][shaft, 0]
        # Weibull, by its hazard at a year: 1 - exp(-exp(line) (t / 12)^shape)
        loose = 1 - math.exp(-math.exp(line) * (MONTHS / 12) ** 1.4)
        told.work += (0.7 * minutes + (60.0 if method == "workshop-fitted" else 0.0) + back * 67.0) / draws
        told.back += back / draws
        told.chance += loose / draws
        told.failing += (1 - back) * loose / draws
        told.minutes += minutes / draws
        told.shakes += slack
        told.forced += stuck
        told.deep += deepest > 150
        told.owners_deep += deepest > 80
    return told


def sound(told: Plain, method: str) -> bool:
    """Say whether a hub meets the demands of safety in nine draws of ten, here in all."""
    if told.shakes or (method == "as-supplied" and told.forced) or (method != "as-supplied" and told.deep):
        return False
    return not (method == "owner-fitted" and (told.owners_deep or told.minutes > 240))


def priced(**options: object) -> PairCosts:
    maps = np.broadcast_to(WIDTHS[..., None, None], (*WIDTHS.shape, SPLINES, STATIONS)).copy()
    given: dict[str, object] = {
        "prices": PRICES, "unserved": UNSERVED, "hand": HAND, "limits": LIMITS, "risk_limit": 0.1, "law": LAW,
        "beside": BESIDE, "months": MONTHS, "hub_normal": np.zeros(WIDTHS.shape), "law_normal": np.empty((0, 5)),
    }  # fmt: skip
    spaces = {size: HubSpace(mean_um=-size, sd_um=0.0) for size in SIZES}
    return price_pairs(maps, spaces, **(given | options))  # type: ignore[arg-type]


def test_a_pair_costs_what_following_it_draw_by_draw_costs() -> None:
    pairs = priced()
    for shaft in range(2):
        table = {(size, method): plain(shaft, size, method) for size in SIZES for method in METHODS}
        follows = min(told.work + 440 * told.failing for (_, method), told in table.items() if method != "as-supplied")
        for at, size in enumerate(SIZES):
            sent = {
                method: told.work + told.back * follows + 440 * told.failing
                for method in METHODS
                if sound(told := table[size, method], method) and told.chance <= 0.1
            }
            if not sent:
                assert not pairs.acceptable[shaft, at], (shaft, size)
                continue
            best = table[size, min(sent, key=lambda method: sent[method])]
            assert pairs.acceptable[shaft, at], (shaft, size)
            assert pairs.whole()[shaft, at] == pytest.approx(min(sent.values()), rel=1e-3)
            assert pairs.risk[0, shaft, at] == pytest.approx(best.failing, rel=2e-3)
            assert pairs.minutes[shaft, at] == pytest.approx(best.minutes)
    # something of each is there
    assert pairs.acceptable.any(axis=1).all()
    assert not pairs.acceptable.all()


def test_who_is_not_served_costs_more_than_whoever_is() -> None:
    pairs = priced()
    cost = pairs.whole()
    for shaft in range(2):
        served = cost[shaft, pairs.acceptable[shaft]]
        assert pairs.unserved(pairs.fixed + 440 * pairs.risk[0])[shaft] == pytest.approx(
            max(served.min() + UNSERVED, served.max())
        )


def test_were_the_draw_known_a_hub_is_sent_that_neither_rattles_nor_sticks() -> None:
    pairs = priced()
    for shaft in range(2):
        for at, size in enumerate(SIZES):
            for draw, width in enumerate(WIDTHS[shaft]):
                # the tightest hub as supplied may be driven on by so much; a filed one may not be too deep
                gap, deepest = -size - width, max(width + size, 0.0)
                never = gap > LIMITS.play_um or deepest > LIMITS.deepest_um
                assert np.isinf(pairs.by_draw[shaft, at, draw]) == never, (shaft, size, width)


def test_a_dearer_failure_costs_more_by_the_chance_of_one_and_a_longer_horizon_has_more() -> None:
    near, far = priced(months=6.0), priced(months=36.0)
    assert (near.risk < far.risk).all()
    dear = priced(prices=FittingPrices(
        filing_minute=0.7, workshop_fit=60.0, postage=17.0, return_=50.0, failure=441.0))  # fmt: skip
    only = priced().acceptable & dear.acceptable
    more = (dear.whole() - priced().whole())[only]
    # one more for a failure, and of the hub that follows one that came back as much again at most
    assert (more >= priced().risk[0][only] - 1e-9).all()
    assert (more <= 1.0).all()
