"""What it costs to serve a shaft with a hub size, as far as both are known when the hub is chosen.

The shaft is known by draws of its width map given its readings; the hub by its space. What becomes of the hub, what it
costs, which demands of safety it meets and how often it works loose are those of the advice for one shaft
(`wearstats.analysis.advice.outcomes`), so that the stock is planned for what would be sent. Of the ways of fitting a
size that may be sent the cheapest counts; of sizes over the shop's limit those that the rule would send where none is
under it. Only what depends on the size is counted: a hub costs the same to make and to post whatever its size.

A shaft is served whenever a size is kept that would be sent. One that is not served costs its best size and, besides,
the lesser of what a special costs more than a hub from the shelf and a lost sale, for a lost sale is what is lost
beside serving the shaft well; but never less than the dearest hub that would be sent, or sets would be praised for
turning away whom they could serve.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import (
    AS_SUPPLIED,
    OWNER,
    FilingHand,
    FittingPrices,
    Outcomes,
    costs_of,
    outcomes_of,
    refusals,
)
from wearstats.analysis.advice.rule import FAR_OVER, HARDLY_MORE
from wearstats.analysis.gaps.posterior import HubSpace
from wearstats.analysis.loosening.predictor import LooseningLaw
from wearstats.analysis.stock.sizes.gap_chances import GapChances
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import FitSums, sum_up_fit, way_in
from wearstats.domain.tables import METHODS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairCosts:
    """Costs of serving shafts with sizes; arrays of shape (shafts, sizes) unless said.

    Parameters
    ----------
    undersizes_um : ndarray, shape (sizes,)
        Ascending.
    fixed : ndarray
        Expected cost but for failures; infinite where the shop would not send the size.
    risk : ndarray, shape (risk draws, shafts, sizes)
        Chance of working loose within the horizon, by drawn laws; one draw of the best law where none are drawn.
    minutes : ndarray
        Expected filing.
    failure_price, unserved_price : float
        Of a hub that works loose, and of a shaft not served, beside serving it well.
    by_draw : ndarray, shape (shafts, sizes, draws)
        Cost were the draw the truth, and known; infinite where the size would then not be sent.
    """

    undersizes_um: FloatArray
    fixed: FloatArray
    risk: FloatArray
    minutes: FloatArray
    failure_price: float
    unserved_price: float
    by_draw: FloatArray

    @property
    def acceptable(self) -> NDArray[np.bool_]:
        """Whether the shop would send the size, shape (shafts, sizes)."""
        return np.isfinite(self.fixed)

    def whole(self, law: int = 0) -> FloatArray:
        """Cost of each pair by one of the drawn laws, of the unserved too; finite, shape (shafts, sizes)."""
        cost = self.fixed + self.failure_price * self.risk[law]
        return np.where(self.acceptable, cost, self.unserved(cost)[:, None])

    def unserved(self, cost: FloatArray) -> FloatArray:
        """Cost of each shaft if none of its acceptable sizes is kept, shape (shafts,)."""
        some = self.acceptable.any(axis=1)
        best = np.where(some, cost.min(axis=1), 0.0)
        dearest = np.where(self.acceptable, cost, -np.inf).max(axis=1)
        return np.asarray(np.maximum(best + self.unserved_price, np.where(some, dearest, 0.0)))


def price_pairs(
    maps_um: FloatArray,
    spaces: dict[float, HubSpace],
    *,
    prices: FittingPrices,
    unserved: float,
    hand: FilingHand,
    limits: AdviceLimits,
    risk_limit: float,
    law: LooseningLaw | None,
    beside: Mapping[str, FloatArray],
    months: float,
    hub_normal: FloatArray,
    law_normal: FloatArray,
) -> PairCosts:
    """Price every pair.

    Parameters
    ----------
    maps_um : ndarray, shape (shafts, draws, splines, stations)
        Drawn true maps of every shaft, given its readings.
    spaces : dict of float to HubSpace
        Hubs that can be made, by undersize, um.
    prices : FittingPrices
        As valid on the day.
    unserved : float
        What is lost where no size kept will do.
    hand : FilingHand
        Who files.
    limits : AdviceLimits
        The shop's settings.
    risk_limit : float
        Chance of working loose that is accepted, 0 to 1.
    law : LooseningLaw or None
        Of working loose; None: failures are not counted.
    beside : mapping of str to ndarray, shape (shafts, effects)
        What is held beside the gap, by method, in the order of the law's names; counted from their means.
    months : float
        Horizon of failures.
    hub_normal : ndarray, shape (shafts, draws)
        Standard normal numbers for the spaces, the same for every size: sizes are compared, and what they share falls
        out of the difference.
    law_normal : ndarray, shape (laws, parameters)
        The same for the law's parameters, besides its best values; without rows only these count.

    Returns
    -------
    PairCosts
    """
    shafts, draws = maps_um.shape[:2]
    undersizes = sorted(spaces)
    chances = {method: GapChances.of(law, beside[method], months, normal=law_normal) for method in METHODS}
    shape = (shafts, len(undersizes), len(METHODS))
    fixed, back, minutes, chance, expected = (np.empty(shape) for _ in range(5))
    failing, sound = np.zeros((1 + len(law_normal), *shape)), np.empty(shape, dtype=bool)
    by_draw = np.full((*shape[:2], draws), np.inf)
    way, mean_width = way_in(maps_um), maps_um.mean(axis=(-2, -1))
    for column, undersize in enumerate(undersizes):
        space = spaces[undersize]
        fit = sum_up_fit(way, mean_width, space.mean_um + space.sd_um * hub_normal)
        for place, method in enumerate(METHODS):
            at = (slice(None), column, place)
            outcomes = outcomes_of(fit, method, hand=hand, limits=limits, stations=maps_um.shape[-1])
            costs = costs_of(outcomes, method, 0.0, prices=prices, follows=0.0)
            stays = 1 - outcomes.comes_back
            fixed[at], back[at], minutes[at] = (
                each.mean(axis=1) for each in (costs, outcomes.comes_back, outcomes.minutes)
            )
            chance[at], _ = chances[method].means(fit.gap_left_um, np.ones_like(stays))
            expected[at], failing[:, *at] = chances[method].means(fit.gap_left_um, stays)
            sound[at] = ~np.any(list(refusals(fit, outcomes, method, limits=limits).values()), axis=0)
            if law is None:
                sound[at] &= fit.gap_left_um.mean(axis=1) <= limits.unknown_gap_um
            known = _were_it_known(fit, outcomes, method, limits)
            by_draw[:, column] = np.minimum(
                by_draw[:, column],
                np.where(known, costs + prices.failure * stays * chances[method].best(fit.gap_left_um), np.inf),
            )
    # the hub that follows one that came back: the cheapest that is filed to fit
    follows = (fixed + prices.failure * expected)[..., 1:].min(axis=(1, 2))
    fixed = fixed + back * follows[:, None, None]
    sent = _would_be_sent(sound, chance, risk_limit)
    best = np.where(sent, fixed + prices.failure * expected, np.inf).argmin(axis=2)[..., None]

    def of_best(values: FloatArray) -> FloatArray:
        return np.asarray(np.take_along_axis(values, best, axis=-1)[..., 0])

    return PairCosts(
        undersizes_um=np.array(undersizes),
        fixed=np.where(sent.any(axis=2), of_best(fixed), np.inf),
        risk=np.stack([of_best(each) for each in failing]),
        minutes=of_best(minutes),
        failure_price=prices.failure,
        unserved_price=unserved,
        by_draw=by_draw,
    )


def _would_be_sent(sound: NDArray[np.bool_], chance: FloatArray, limit: float) -> NDArray[np.bool_]:
    """Say which sizes and methods the rule would send, shape (shafts, sizes, methods)."""
    allowed = sound & (chance <= limit)
    least = np.where(sound, chance, np.inf).min(axis=(1, 2), keepdims=True)
    instead = sound & (chance <= HARDLY_MORE * least) & (least <= FAR_OVER * limit)
    return np.where(allowed.any(axis=(1, 2), keepdims=True), allowed, instead)


def _were_it_known(fit: FitSums, outcomes: Outcomes, method: str, limits: AdviceLimits) -> NDArray[np.bool_]:
    """Whether a hub would be sent if each draw were known to be the truth, shape (shafts, draws)."""
    sent = ~outcomes.slack & ~outcomes.stuck
    if method == AS_SUPPLIED:
        return np.asarray(sent)
    if method == OWNER:
        sent &= (fit.largest_filing_um <= limits.owner_filing_um) & (outcomes.minutes <= limits.owner_filing_min)
    return np.asarray(sent & (fit.largest_filing_um <= limits.deepest_um))
