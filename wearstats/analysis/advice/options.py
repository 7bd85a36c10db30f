"""What can be sent to a shaft, weighed: every hub by every method, with all that would become of it."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import TypeVar

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
from wearstats.analysis.advice.remarks import AdviceRemark, Refusal
from wearstats.analysis.advice.rule import Candidate
from wearstats.analysis.estimate import Estimate, Status, no_estimate, widened_interval
from wearstats.analysis.gaps.posterior import FitDraws, HubSpace, fit_draws
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.tables import METHODS

_T = TypeVar("_T", FitDraws, Outcomes)

GRIPPED = 0.8
"""Share of splines that is asked about; borrowed from taper practice, where 80 % contact is asked for
(ANSI/AGMA 9003-B08), for want of a figure for straight flanks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HubOption:
    """A hub that can be sent.

    Parameters
    ----------
    undersize_um : float
        Its size.
    space : HubSpace
        Its spaces.
    hub : str or None
        Its number where it lies on the shelf, gauged.
    special : bool
        Whether it would have to be made singly.
    """

    undersize_um: float
    space: HubSpace
    hub: str | None = None
    special: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """One hub, or two, by one method, draw by draw.

    Parameters
    ----------
    option : HubOption
        Which; of two the looser.
    method : str
        How it is fitted.
    fit : FitDraws
        How it fits, shape (draws,).
    outcomes : Outcomes
        What becomes of it, shape (draws,).
    risk : ndarray or None, shape (draws,)
        Chance of working loose within the horizon, the law drawn too; None where it is not known.
    why_no_risk : Remark or None
        Why it is not known.
    beyond : bool
        Whether that is because such gaps are beyond the record.
    second_um : float or None
        The tighter size sent with it.
    extra : float
        What sending it costs besides.
    """

    option: HubOption
    method: str
    fit: FitDraws
    outcomes: Outcomes
    risk: FloatArray | None
    why_no_risk: Remark | None = None
    beyond: bool = False
    second_um: float | None = None
    extra: float = 0.0

    def costs(self, prices: FittingPrices, *, follows: float) -> FloatArray:
        """Price it, shape (draws,); a failure counts nothing where its chance is not known."""
        risk = 0.0 if self.risk is None else self.risk
        return costs_of(self.outcomes, self.method, risk, prices=prices, follows=follows) + self.extra

    def refused(
        self, limit: float, limits: AdviceLimits, weights: FloatArray | None = None
    ) -> dict[Refusal, NDArray[np.bool_]]:
        """Say which demands it does not meet, shape () or that of the last axis of the weights."""
        found = refusals(self.fit, self.outcomes, self.method, limits=limits, weights=weights)
        if self.beyond:
            found[Refusal.BEYOND_RECORD] = np.asarray(True)
        if self.risk is not None:
            chance = self.risk.mean() if weights is None else self.risk @ weights
            found[Refusal.OVER_LIMIT] = np.asarray(chance > limit)
        return found


Risk = Callable[[FitDraws, str], tuple[FloatArray | None, Remark | None, bool]]
"""Chance of working loose of a hub with such gaps by a method: its draws, or why there are none and whether such gaps
are beyond the record."""


def weigh(
    maps_um: FloatArray,
    options: Sequence[HubOption],
    *,
    risk: Risk,
    hand: FilingHand,
    limits: AdviceLimits,
    prices: FittingPrices,
    hub_normal: FloatArray,
) -> list[Weighed]:
    """Work out what would become of every hub by every method, and of two neighbouring sizes sent together.

    Parameters
    ----------
    maps_um : ndarray, shape (draws, splines, stations)
        Drawn true maps of the shaft.
    options : sequence of HubOption
        What can be sent.
    risk : callable
        See `Risk`.
    hand, limits, prices
        Who files, what the shop demands, and what things cost.
    hub_normal : ndarray, shape (draws,)
        Standard normal numbers for the hubs' spaces, the same for all, so that hubs differ by themselves alone.

    Returns
    -------
    list of Weighed
        From the loosest to the tightest.
    """
    stations = maps_um.shape[-1]
    weighed: list[Weighed] = []
    for option in sorted(options, key=lambda each: (each.undersize_um, each.hub or "")):
        fit = fit_draws(maps_um, np.asarray(option.space.mean_um + option.space.sd_um * hub_normal))
        extra = prices.special if option.special else 0.0
        for method in METHODS:
            told, why, beyond = risk(fit, method)
            weighed.append(
                Weighed(
                    option=option,
                    method=method,
                    fit=fit,
                    outcomes=outcomes_of(fit, method, hand=hand, limits=limits, stations=stations),
                    risk=told,
                    why_no_risk=why,
                    beyond=beyond,
                    extra=extra,
                )
            )
    return weighed + _pairs(weighed, prices)


def _pairs(weighed: Sequence[Weighed], prices: FittingPrices) -> list[Weighed]:
    """Weigh two sizes sent together: the owner keeps the looser if it binds, else the tighter, and sends one back."""
    by_owner = [each for each in weighed if each.method == OWNER and not each.option.special]
    sizes = {each.option.undersize_um: each for each in by_owner if each.option.hub is None}
    ordered = [sizes[um] for um in sorted(sizes)]
    pairs = []
    for loose, tight in itertools.pairwise(ordered):
        if loose.risk is None or tight.risk is None:
            continue
        binds = loose.fit.largest_filing_um > 0
        pairs.append(
            replace(
                loose,
                fit=_mixed(FitDraws, binds, loose.fit, tight.fit),
                outcomes=_mixed(Outcomes, binds, loose.outcomes, tight.outcomes),
                risk=np.where(binds, loose.risk, tight.risk),
                second_um=tight.option.undersize_um,
                # one goes out and comes back besides
                extra=2 * prices.postage,
            )
        )
    return pairs


def _mixed(kind: type[_T], first: NDArray[np.bool_], one: _T, other: _T) -> _T:
    names = [each.name for each in fields(kind)]
    return kind(**{name: np.where(first, getattr(one, name), getattr(other, name)) for name in names})


def follows_of(weighed: Sequence[Weighed], prices: FittingPrices) -> float:
    """Give what the hub costs that follows one that came back: the cheapest that is filed to fit."""
    filed = [each for each in weighed if each.method != AS_SUPPLIED and each.second_um is None]
    return min((float(each.costs(prices, follows=0.0).mean()) for each in filed), default=0.0)


def candidates_of(
    weighed: Sequence[Weighed],
    *,
    prices: FittingPrices,
    limit: float,
    limits: AdviceLimits,
    hand: FilingHand,
    cost_status: Status = "ok",
) -> list[Candidate]:
    """Sum up what was weighed, for the rule to choose among."""
    follows = follows_of(weighed, prices)
    return [_candidate(each, prices, follows, limit, limits, hand, cost_status) for each in weighed]


def _candidate(
    each: Weighed,
    prices: FittingPrices,
    follows: float,
    limit: float,
    limits: AdviceLimits,
    hand: FilingHand,
    cost_status: Status,
) -> Candidate:
    risk = _risk(each)
    cost = float(each.costs(prices, follows=follows).mean())
    low, high = cost, cost
    if risk.value is not None and risk.low is not None and risk.high is not None:
        stays = float((1 - each.outcomes.comes_back).mean())
        low, high = (cost + prices.failure * stays * (end - risk.value) for end in (risk.low, risk.high))
    return Candidate(
        undersize_um=each.option.undersize_um,
        method=each.method,
        hub=each.option.hub,
        second_um=each.second_um,
        special=each.option.special,
        risk=risk,
        cost=Estimate(value=cost, low=low, high=high, method=remark(AdviceRemark.COST), status=cost_status)
        if risk.value is not None
        else no_estimate(remark(AdviceRemark.COST_UNKNOWN, why=each.why_no_risk)),
        minutes=float(each.outcomes.minutes.mean()),
        trials=float(hand.trials(each.fit).mean()),
        slack=float(each.outcomes.slack.mean()),
        gap_um=float(each.fit.gap_left_um.mean()),
        station_gap_um=float(each.fit.station_gap_um.mean()),
        gripped=float(np.mean(each.fit.gripped_share >= GRIPPED - 1e-9)),
        refused=tuple(code for code, holds in each.refused(limit, limits).items() if bool(holds)),
    )


def _risk(each: Weighed) -> Estimate:
    if each.risk is None:
        status: Status = "beyond-data" if each.beyond else "none"
        return Estimate(value=None, method=each.why_no_risk, status=status)
    low, high, _ = widened_interval(each.risk, each.risk.mean())
    return Estimate(value=float(each.risk.mean()), low=float(low), high=float(high), method=remark(AdviceRemark.RISK))
