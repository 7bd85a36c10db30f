"""The rule that chooses: demands of safety first, then the least expected cost.

Of what meets every demand the cheapest is sent; of those that cost within 5 % of it one that lies on the shelf, then
the one with the smaller chance of working loose, for one can take off and not put on. Where none meets the demand on
the chance, the cheapest of those with hardly more than the least chance, and never one above twice the limit. Where
nothing is known of the chance, the loosest hub whose mean gap is small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import WORKSHOP
from wearstats.analysis.advice.remarks import Reason, Refusal
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark

Do = Literal["send", "send-two", "measure-again", "send-shaft-here", "make-special", "decline"]

ABOUT_AS_CHEAP = 1.05
HARDLY_MORE = 1.1
"""Of the least chance."""
FAR_OVER = 2.0
"""So many times the limit nothing is sent."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A hub, or two, fitted by a method, with what would become of it.

    Parameters
    ----------
    undersize_um, method
        Which size, and how it is fitted.
    hub : str or None
        Its number where it lies on the shelf, gauged.
    second_um : float or None
        The tighter size that is sent with it, one to come back.
    special : bool
        Whether it would have to be made singly.
    risk : Estimate
        Chance of working loose within the horizon, the mean over what is not known; no value where it is not known.
    cost : Estimate
        Expected cost.
    minutes, trials, slack : float
        Expected minutes of filing and trials; chance that it can be rocked on trial.
    gap_um, station_gap_um : float
        Mean gap left, over all and at the station where it is largest.
    gripped : float
        Chance that it grips at least four splines in five: shown, no demand.
    refused : tuple of Refusal
        Demands that it does not meet.
    """

    undersize_um: float
    method: str
    hub: str | None = None
    second_um: float | None = None
    special: bool = False
    risk: Estimate
    cost: Estimate
    minutes: float
    trials: float
    slack: float
    gap_um: float
    station_gap_um: float
    gripped: float
    refused: tuple[Refusal, ...]

    @property
    def allowed(self) -> bool:
        """Whether it meets every demand."""
        return not self.refused

    @property
    def known_cost(self) -> float:
        """Its cost, where it is known."""
        return float("inf") if self.cost.value is None else self.cost.value

    @property
    def do(self) -> Do:
        """What sending it means."""
        if self.special:
            return "make-special"
        if self.method == WORKSHOP:
            return "send-shaft-here"
        return "send" if self.second_um is None else "send-two"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decision:
    """What is to be sent by the rule.

    Parameters
    ----------
    chosen, runner_up : Candidate or None
        The hub, and the one it was measured against; None where there is none.
    because : tuple of Remark
        Why, the first one first.
    """

    chosen: Candidate | None
    runner_up: Candidate | None = None
    because: tuple[Remark, ...] = field(default=())

    @property
    def do(self) -> Do:
        """What to do."""
        return "decline" if self.chosen is None else self.chosen.do


def decide(candidates: Sequence[Candidate], *, limit: float, limits: AdviceLimits) -> Decision:
    """Choose.

    Parameters
    ----------
    candidates : sequence of Candidate
        From the loosest to the tightest.
    limit : float
        Chance of working loose that is accepted, 0 to 1.
    limits : AdviceLimits
        The shop's settings.

    Returns
    -------
    Decision
    """
    on_chance = {Refusal.OVER_LIMIT, Refusal.BEYOND_RECORD}
    sound = [each for each in candidates if not set(each.refused) - on_chance]
    if not sound:
        deep = any(Refusal.SHAKES not in each.refused for each in candidates)
        return Decision(
            chosen=None, because=(remark(Reason.TOO_DEEP, deepest_um=limits.deepest_um) if deep else _none(candidates),)
        )
    known = [each for each in sound if each.risk.value is not None]
    if not known:
        return _nothing_known(sound, limits)
    allowed = [each for each in known if each.allowed]
    if allowed:
        chosen = _cheapest(allowed)
        near = _chance(chosen) > limit - limits.near
        # at the limit the answer hangs on a hair: what lies across it is what to weigh it against
        across = [each for each in known if near and limit < _chance(each) <= limit + limits.near]
        beside = _beside(chosen, across) or _beside(chosen, allowed) or _beside(chosen, known)
        code = Reason.AT_LIMIT if near else Reason.CHEAPEST
        return Decision(chosen=chosen, runner_up=beside, because=(remark(code, limit=limit),))
    least = min(_chance(each) for each in known)
    if least > FAR_OVER * limit:
        facts = {"least": least, "limit": limit}
        return Decision(chosen=None, because=(remark(Reason.NO_HUB_HOLDS, **facts),))
    chosen = _cheapest([each for each in known if _chance(each) <= HARDLY_MORE * least])
    near = _chance(chosen) <= limit + limits.near
    code = Reason.AT_LIMIT if near else Reason.LEAST_CHANCE
    return Decision(chosen=chosen, runner_up=_beside(chosen, known), because=(remark(code, limit=limit),))


def _chance(candidate: Candidate) -> float:
    return 1.0 if candidate.risk.value is None else candidate.risk.value


def _cheapest(candidates: Sequence[Candidate]) -> Candidate:
    """Give the cheapest; of those about as cheap one on the shelf, then the safer, then the looser."""
    least = min(each.known_cost for each in candidates)
    near = [each for each in candidates if each.known_cost <= max(ABOUT_AS_CHEAP * least, least)]
    return min(near, key=lambda each: (each.hub is None, each.special, _chance(each), each.undersize_um))


def _beside(chosen: Candidate, others: Sequence[Candidate]) -> Candidate | None:
    """Give the cheapest other size, the one that a reader will ask about.

    Two sent together are none, nor is one made singly where a hub from the shelf serves.
    """
    rest = [
        each
        for each in others
        if each.undersize_um != chosen.undersize_um and each.second_um is None and each.special <= chosen.special
    ]
    return min(rest, key=lambda each: each.known_cost, default=None)


def _nothing_known(sound: Sequence[Candidate], limits: AdviceLimits) -> Decision:
    # without a record of gaps a hollow may not hide in the mean: what is asked is asked at every station
    fits = [each for each in sound if each.station_gap_um <= limits.unknown_gap_um]
    small = [each for each in fits if not each.special] or fits
    if not small:
        gap_um = min(each.station_gap_um for each in sound)
        return Decision(chosen=None, because=(remark(Reason.NO_HUB_HOLDS, gap_um=gap_um),))
    loosest = min(each.undersize_um for each in small)
    # without a chance there is no cost: a hub on the shelf before one to be picked, then the least work
    chosen = min(
        (each for each in small if each.undersize_um == loosest),
        key=lambda each: (each.known_cost, each.hub is None, each.minutes, each.gap_um),
    )
    others = [each for each in small if each.undersize_um > loosest]
    return Decision(
        chosen=chosen,
        runner_up=min(others, key=lambda each: (each.undersize_um, each.known_cost), default=None),
        because=(remark(Reason.NOTHING_KNOWN, gap_um=limits.unknown_gap_um),),
    )


def _none(candidates: Sequence[Candidate]) -> Remark:
    tightest = max((each.undersize_um for each in candidates), default=None)
    return remark(Reason.NONE_TIGHT, tightest_um=tightest)
