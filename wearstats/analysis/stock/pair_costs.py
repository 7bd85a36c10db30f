"""What it costs to serve a shaft with a hub size, as far as both are known when the hub is chosen.

The shaft is known by draws of its width map given its readings; the hub by its space. Every draw gives the filing, the
gap left and whether the hub goes on; the law of working loose gives the chance of failure at that gap. The method is
chosen by the shop's own rule, from what is known, never from the truth: as supplied where it is sure enough to go on,
filed by the owner within the limits left to an owner, else in the workshop. The cost of a size is the mean over draws.

Only what depends on the size is counted: filing, fitting in the workshop, hubs that will not go on, failures. A hub
costs the same to make and to post whatever its size. A shaft is served whenever a size is kept that the shop would
send: tight enough, and not too much to file off. One that is not served costs its best size and, besides, the lesser
of what a special costs more than a hub from the shelf and a lost sale, for a lost sale is what is lost beside serving
the shaft well; but never less than the dearest hub that would be sent, or sets would be praised for turning away whom
they could serve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.advice.options import AdviceLimits
from wearstats.analysis.gaps.posterior import HubSpace
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS, LooseningLaw
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import FitSums, sum_up_fit, way_in


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitPrices:
    """Prices of what depends on the size, all in one currency.

    Parameters
    ----------
    filing_minute, workshop_fit, come_back, failure : float
        A minute of filing; a fitting in the workshop; a hub sent back, with its postage; a hub that works loose.
    unserved : float
        What is lost, beside serving it well, where no size kept will do: the lesser of what a special costs more, and a
        lost sale.
    """

    filing_minute: float
    workshop_fit: float
    come_back: float
    failure: float
    unserved: float


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
    prices: UnitPrices,
    minutes_per_um: float,
    limits: AdviceLimits,
    law: LooseningLaw | None,
    law_draws: int,
    months: float,
    rng: np.random.Generator,
) -> PairCosts:
    """Price every pair.

    Parameters
    ----------
    maps_um : ndarray, shape (shafts, draws, splines, stations)
        Drawn true maps of every shaft, given its readings.
    spaces : dict of float to HubSpace
        Hubs that can be made, by undersize, um.
    prices : UnitPrices
        As valid on the day.
    minutes_per_um : float
        Minutes by micrometre of filing, summed over the places.
    limits : AdviceLimits
        The shop's settings: which hub is tight enough, what may go on as supplied, what is left to an owner.
    law : LooseningLaw or None
        Of working loose; None: failures are not counted.
    law_draws : int
        Draws of the law besides its best values.
    months : float
        Horizon of failures.
    rng : Generator
        For spaces and laws.

    Returns
    -------
    PairCosts
    """
    shafts, draws = maps_um.shape[:2]
    undersizes = sorted(spaces)
    # the same draws for every size: sizes are compared, and what they share falls out of the difference
    normal = rng.standard_normal(draws)
    laws = _draw_laws(law, law_draws, rng)
    shape = (shafts, len(undersizes))
    fixed, minutes, sent = np.empty(shape), np.empty(shape), np.empty(shape, dtype=bool)
    risk = np.zeros((len(laws), *shape))
    by_draw = np.empty((*shape, draws))
    way, mean_width = way_in(maps_um), maps_um.mean(axis=(-2, -1))
    for column, undersize in enumerate(undersizes):
        space = spaces[undersize]
        fit = sum_up_fit(way, mean_width, np.broadcast_to(space.mean_um + space.sd_um * normal, (shafts, draws)))
        sent[:, column] = np.mean(fit.gripped_share >= limits.gripped_share - 1e-9, axis=1) >= limits.sure
        filing = minutes_per_um * fit.total_filing_um
        supplied = np.mean(fit.largest_filing_um <= limits.slide_um, axis=1) >= limits.sure
        most = np.quantile(fit.largest_filing_um, limits.sure, axis=1)
        sent[:, column] &= most <= limits.most_filing_um
        owner = ~supplied & (most <= limits.owner_filing_um) & (filing.mean(axis=1) <= limits.owner_filing_min)
        here = ~supplied & ~owner
        stuck = supplied[:, None] & (fit.largest_filing_um > limits.slide_um)
        work = np.where(supplied[:, None], 0.0, filing)
        each = prices.filing_minute * work + prices.workshop_fit * here[:, None] + prices.come_back * stuck
        fixed[:, column], minutes[:, column] = each.mean(axis=1), work.mean(axis=1)
        chances = _chances(law, laws, fit.gap_left_um, months)
        risk[:, :, column] = chances.mean(axis=2)
        by_draw[:, column] = _were_it_known(fit, filing, prices, limits) + prices.failure * chances[0]
    return PairCosts(
        undersizes_um=np.array(undersizes),
        fixed=np.where(sent, fixed, np.inf),
        risk=risk,
        minutes=minutes,
        failure_price=prices.failure,
        unserved_price=prices.unserved,
        by_draw=by_draw,
    )


def _were_it_known(fit: FitSums, filing: FloatArray, prices: UnitPrices, limits: AdviceLimits) -> FloatArray:
    """Cost but for failures if each draw were known to be the truth, shape (shafts, draws)."""
    supplied = fit.largest_filing_um <= limits.slide_um
    owner = (fit.largest_filing_um <= limits.owner_filing_um) & (filing <= limits.owner_filing_min)
    cost = prices.filing_minute * filing + np.where(owner, 0.0, prices.workshop_fit)
    sent = (fit.gripped_share >= limits.gripped_share - 1e-9) & (fit.largest_filing_um <= limits.most_filing_um)
    return np.where(sent, np.where(supplied, 0.0, cost), np.inf)


def _draw_laws(law: LooseningLaw | None, count: int, rng: np.random.Generator) -> Sequence[FloatArray]:
    """Parameters of the best law, then of drawn ones."""
    if law is None:
        return [np.empty(0)]
    drawn = rng.multivariate_normal(law.parameters, law.covariance, size=count, method="eigh")
    return [law.parameters, *drawn]


def _chances(law: LooseningLaw | None, laws: Sequence[FloatArray], gap_um: FloatArray, months: float) -> FloatArray:
    """Chance of working loose by some months, (laws, shafts, draws), at the mean of what is held beside the gap."""
    if law is None:
        return np.zeros((1, *gap_um.shape))
    terms = law.term(gap_um)
    log_time = np.log(months / REFERENCE_MONTHS)
    slopes = terms.shape[-1]
    lines = [p[0] + terms @ p[1 : 1 + slopes] + np.exp(p[-2]) * log_time for p in laws]
    return np.asarray(-np.expm1(-np.exp(np.minimum(np.stack(lines), 50.0))))
