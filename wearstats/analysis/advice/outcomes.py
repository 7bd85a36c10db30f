"""What would become of a hub on a shaft: whether it goes on, what filing it takes, whether it comes back.

All is worked out draw by draw of map, hub and model together, for one shaft or for many at once. A trial is: turn it
on, mark it, ease it. So time goes by the trials, and these by the deepest place, and by the depth of what comes off
each spline; never by how many stations were measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.remarks import Refusal
from wearstats.analysis.gaps.posterior import FitDraws
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import FitSums
from wearstats.domain.tables import METHODS

AS_SUPPLIED, OWNER, WORKSHOP = METHODS

FitLike = FitDraws | FitSums
"""What the geometry says of a hub on a shaft, or on many; arrays of one shape (..., draws)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilingHand:
    """How long filing takes, and how well it is done.

    Parameters
    ----------
    trial_min : float
        Minutes of one trial: turn on, mark, take off (judgement).
    trial_um : float
        What is eased off between two trials at the deepest place (judgement).
    um_min : float
        Minutes by micrometre of depth, summed over the splines (judgement, order only: a few um come off at a light
        stroke).
    pace : float
        How much longer than that this shop's filing takes, as learnt from minutes on record; 1 where they are too few.
    pace_assumed : bool
        Whether they were too few.
    error_um, error_share : float
        Spread of what comes off too much over a whole hub: at no depth, and by micrometre of depth (judgement).
    workshop_share : float
        How much of that error is left in the workshop (judgement).
    careless : float
        Least chance that a hub is filed too far, whatever the depth, as learnt from returns; 0 where too few tell.
    """

    trial_min: float = 6.0
    trial_um: float = 15.0
    um_min: float = 0.2
    pace: float = 1.0
    pace_assumed: bool = True
    error_um: float = 3.0
    error_share: float = 0.08
    workshop_share: float = 0.5
    careless: float = 0.0

    def trials(self, fit: FitLike) -> FloatArray:
        """Give how many trials it takes, the first one included; shape (..., draws)."""
        return np.asarray(1.0 + np.ceil(fit.largest_filing_um / self.trial_um))

    def minutes(self, fit: FitLike, *, stations: int) -> FloatArray:
        """Give the minutes of filing a hub to fit; shape (..., draws), 0 where nothing comes off."""
        depth = fit.total_filing_um / stations
        work = self.trial_min * self.trials(fit) + self.um_min * depth
        return np.asarray(np.where(fit.largest_filing_um > 0, self.pace * work, 0.0))

    def too_far(self, fit: FitLike, *, play_um: float, share: float) -> FloatArray:
        """Give the chance that so much is filed off that the hub rattles; shape (..., draws)."""
        spread = share * (self.error_um + self.error_share * fit.largest_filing_um)
        left = np.maximum(play_um - fit.smallest_gap_um, 0.0)
        # what is filed too much is half of a normal error: nobody files too little and leaves it at that
        # what came back filed too far holds both: the careless, and those who only just went over
        chance = np.maximum(self.careless, erfc(left / (spread * 2**0.5)))
        return np.asarray(np.where(fit.largest_filing_um > 0, chance, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcomes:
    """What becomes of a hub fitted by one method; arrays of shape (..., draws).

    Parameters
    ----------
    minutes : ndarray
        Of filing.
    stuck, slack : ndarray of bool
        It would have to be forced; it can be rocked on trial.
    too_far : ndarray
        Chance that it is filed too far.
    """

    minutes: FloatArray
    stuck: NDArray[np.bool_]
    slack: NDArray[np.bool_]
    too_far: FloatArray

    @property
    def comes_back(self) -> FloatArray:
        """Chance that it does not stay on."""
        return np.asarray(np.where(self.stuck | self.slack, 1.0, self.too_far))


def outcomes_of(fit: FitLike, method: str, *, hand: FilingHand, limits: AdviceLimits, stations: int) -> Outcomes:
    """Say what becomes of a hub.

    Parameters
    ----------
    fit : FitLike
        What the geometry says, shape (..., draws).
    method : str
        How it is fitted.
    hand : FilingHand
        Who files.
    limits : AdviceLimits
        The shop's settings.
    stations : int
        Stations of the shaft, of which `fit` holds sums.

    Returns
    -------
    Outcomes
    """
    slack = fit.smallest_gap_um > limits.play_um
    if method == AS_SUPPLIED:
        nothing = np.zeros_like(fit.gap_left_um)
        return Outcomes(minutes=nothing, stuck=fit.largest_filing_um > limits.slide_um, slack=slack, too_far=nothing)
    share = hand.workshop_share if method == WORKSHOP else 1.0
    return Outcomes(
        minutes=hand.minutes(fit, stations=stations),
        stuck=np.zeros_like(slack),
        slack=slack,
        too_far=hand.too_far(fit, play_um=limits.play_um, share=share),
    )


def refusals(
    fit: FitLike, outcomes: Outcomes, method: str, *, limits: AdviceLimits, weights: FloatArray | None = None
) -> dict[Refusal, NDArray[np.bool_]]:
    """Say which demands of safety a hub does not meet, but for its chance of working loose.

    Parameters
    ----------
    fit, outcomes : FitLike, Outcomes
        Shape (..., draws).
    method : str
        How it is fitted.
    limits : AdviceLimits
        The shop's settings.
    weights : ndarray, shape (draws,), optional
        How likely each draw is, summing to 1; all alike if not given.

    Returns
    -------
    dict of Refusal to ndarray of bool, shape (...)
    """

    def chance(of: NDArray[np.bool_]) -> FloatArray:
        return np.asarray(of.mean(axis=-1) if weights is None else of @ weights)

    unsure = 1 - limits.sure + 1e-9
    found = {Refusal.SHAKES: chance(outcomes.slack) > unsure}
    if method == AS_SUPPLIED:
        return found | {Refusal.FORCED: chance(outcomes.stuck) > unsure}
    found[Refusal.TOO_DEEP] = chance(fit.largest_filing_um > limits.deepest_um) > unsure
    if method == OWNER:
        deep = chance(fit.largest_filing_um > limits.owner_filing_um) > unsure
        long = outcomes.minutes.mean(axis=-1) > limits.owner_filing_min
        found[Refusal.NOT_AN_OWNERS] = deep | long
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingPrices:
    """Prices of what depends on the hub, all in one currency.

    Parameters
    ----------
    filing_minute, workshop_fit, postage, return_, failure : float
        A minute of filing; a fitting in the workshop; postage one way; a hub that comes back; one that works loose.
    special : float
        What one made singly costs more than one from the shelf.
    """

    filing_minute: float
    workshop_fit: float
    postage: float
    return_: float
    failure: float
    special: float = 0.0


def costs_of(
    outcomes: Outcomes, method: str, risk: FloatArray | float, *, prices: FittingPrices, follows: FloatArray | float
) -> FloatArray:
    """Price what becomes of a hub.

    Parameters
    ----------
    outcomes : Outcomes
        Shape (..., draws).
    method : str
        How it is fitted.
    risk : ndarray or float, shape (..., draws)
        Chance of working loose within the horizon once it stays on.
    prices : FittingPrices
        As valid on the day.
    follows : ndarray or float
        Cost of the hub that follows one that came back, shape (..., 1) or a number.

    Returns
    -------
    ndarray, shape (..., draws)
        A hub costs the same to make and to post whatever its size, so that is left out.
    """
    back = outcomes.comes_back
    here = prices.workshop_fit if method == WORKSHOP else 0.0
    work = prices.filing_minute * outcomes.minutes + here
    again = prices.return_ + prices.postage + follows
    return np.asarray(work + back * again + (1 - back) * prices.failure * risk)
