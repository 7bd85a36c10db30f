"""The rule that chooses a hub for a shaft, and says why.

The rule is guard-banded: it asks for the probability that a demand is met given what is known of the shaft, not
whether the reading meets it (in the manner of JCGM 106:2012). Every limit is a setting of the shop's, with the reason
beside it. Geometry says which sizes may go: tight enough, and not too much to file. Of these the loosest is taken whose
chance of working loose is surely under the shop's limit; where none is surely so, the loosest that is so by the best
estimate; where none is, the loosest whose chance is hardly more than the least, and the advice says that it is over the
limit. Without a law of working loose geometry decides alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wearstats.analysis.advice.options import AdviceLimits, Evidence, SizeOption
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.posterior import hollow_draws
from wearstats.analysis.gauging.agreement import DISAGREE_SDS
from wearstats.domain.arrays import FloatArray

_HARDLY_MORE = 0.005
"""Chance of working loose for which no tighter hub is filed (judgement)."""


Do = Literal["send", "send-two", "measure-again", "send-shaft-here", "make-special", "decline"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do.

    Parameters
    ----------
    do : str
        One of the six things that can be done.
    undersize_um : float or None
        Which hub.
    method : str or None
        How it is to be fitted.
    why : str
        The reason, in one or two sentences, with what would change it.
    """

    do: Do
    undersize_um: float | None
    method: str | None
    why: str

    def to_dict(self) -> dict[str, object]:
        """Give the part of the ``--json`` document."""
        return {"do": self.do, "undersize_um": self.undersize_um, "method": self.method, "why": self.why}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiskDemand:
    """What the shop asks of the chance of working loose.

    Parameters
    ----------
    risks : mapping of (undersize_um, method) to Estimate
        The chance within the horizon.
    limit : float
        Highest that is accepted, 0 to 1.
    months : float
        The horizon.
    """

    risks: Mapping[tuple[float, str], Estimate]
    limit: float
    months: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Candidate:
    """A size that geometry lets go, and how it would be fitted."""

    option: SizeOption
    method: str
    most_um: float
    minutes: float
    goes_on: float


def advise(
    maps_um: FloatArray,
    options: list[SizeOption],
    evidence: Evidence,
    *,
    special_um: float | None,
    limits: AdviceLimits,
    demand: RiskDemand | None = None,
) -> Advice:
    """Choose.

    Parameters
    ----------
    maps_um : ndarray, shape (draws, splines, stations)
        Drawn true maps of the shaft.
    options : list of SizeOption
        Sizes on offer, from `weigh_sizes`.
    evidence : Evidence
        What else is known.
    special_um : float or None
        The undersize, off the shelf, that would be tight; None where there is none or it is not known.
    limits : AdviceLimits
        The settings.
    demand : RiskDemand, optional
        What is asked of the chance of working loose; without it geometry decides alone.

    Returns
    -------
    Advice
    """
    hollow = hollow_draws(maps_um)
    too_hollow = float(np.mean(hollow > limits.hollow_um))
    if evidence.calipers_only:
        return _again("it was measured with calipers only, which are not good enough to choose a size by")
    apart = evidence.disagreement
    if apart is not None and apart.sds > DISAGREE_SDS:
        return _again(
            f"its inspections {apart.first} and {apart.second} differ by {apart.apart_um:.0f} µm on average, far more "
            "than two measurers usually do, so that one of them must be wrong"
        )
    if len(evidence.all_equal) == evidence.inspections:
        return _again(
            f"all readings of inspection {joined_names(evidence.all_equal)} are the same, which splines that were each "
            "measured never are"
        )
    if evidence.measured_share < 0.5:
        return _again(f"only {_percent(evidence.measured_share)} of its places were read")
    if too_hollow >= 0.5:
        return Advice(
            do="decline",
            undersize_um=None,
            method=None,
            why=f"The splines are hollow by {hollow.mean():.0f} µm on average where they are worst, more than the "
            f"{limits.hollow_um:.0f} µm allowed; a hub passes the wide places on its way in, so no hub, however tight, "
            "would bear there. Only a shaft that is built up and ground, or another one, lifts this.",
        )
    if too_hollow > 1 - limits.sure:
        return _again(
            f"the splines may be hollow beyond the {limits.hollow_um:.0f} µm allowed (chance {_chance(too_hollow)}), "
            "which no hub would cure"
        )
    if evidence.width_sd_um > limits.width_sd_um:
        return _again(
            f"its mean width is only known to give or take {2 * evidence.width_sd_um:.0f} µm (95 % sure), too little "
            "to choose a size by"
        )
    tight = [option for option in options if option.tight >= limits.sure]
    if not tight:
        return _special(options, special_um, limits)
    may_go = [found for option in tight if (found := _candidate(option, evidence, limits)) is not None]
    if not may_go:
        return Advice(
            do="decline",
            undersize_um=None,
            method=None,
            why=f"Every hub that is sure to be tight would need more than {limits.most_filing_um:.0f} µm filed off at "
            "one place, and its splines would grow thin. Only a shaft that is built up and ground, or another one, "
            "lifts this.",
        )
    chosen, beside = _by_risk(may_go, demand)
    if chosen is None:
        return Advice(do="decline", undersize_um=None, method=None, why=beside)
    return _send(chosen, beside, evidence, limits, loosest=chosen.option is tight[0])


def _candidate(option: SizeOption, evidence: Evidence, limits: AdviceLimits) -> _Candidate | None:
    """Say how a size would be fitted; None where too much would have to come off."""
    fit = option.fit
    most = float(np.quantile(fit.largest_filing_um, limits.sure))
    minutes = evidence.filing_min_per_um * float(fit.total_filing_um.mean())
    goes_on = float(np.mean(fit.largest_filing_um <= limits.slide_um))
    if most > limits.most_filing_um:
        return None
    # whatever the fit says, nothing goes on as supplied that may shake by more than the shop allows
    no_shake = float(np.mean(fit.clearance_um <= limits.play_um))
    if goes_on >= limits.sure and no_shake >= limits.sure:
        method = "as-supplied"
    elif most <= limits.owner_filing_um and minutes <= limits.owner_filing_min:
        method = "owner-fitted"
    else:
        method = "workshop-fitted"
    return _Candidate(option=option, method=method, most_um=most, minutes=minutes, goes_on=goes_on)


def _by_risk(may_go: list[_Candidate], demand: RiskDemand | None) -> tuple[_Candidate | None, str]:
    """Choose among the sizes that may go by their chance of working loose, and say what it is."""
    if demand is None:
        return may_go[0], ""
    told = [(each, demand.risks[each.option.undersize_um, each.method]) for each in may_go]
    known = [(each, risk.value, risk.high) for each, risk in told if risk.value is not None and risk.high is not None]
    if not known:
        beyond = all(risk.status == "beyond-data" for _, risk in told)
        return (None, _beyond(may_go[0])) if beyond else (may_go[0], "")
    span = f"within {demand.months:g} months"
    limit = f"the limit of {100 * demand.limit:g} in 100"
    for each, value, high in known:
        if high <= demand.limit:
            return each, f"The chance of working loose {span} is {_per_cent(value)} in 100, surely under {limit}."
    for each, value, high in known:
        # as supplied it must be sure: a tighter hub filed to fit keeps less of a gap
        if value <= demand.limit and (each.method != "as-supplied" or each is known[-1][0]):
            return each, (
                f"The chance of working loose {span} is {_per_cent(value)} in 100, under {limit}, though the record "
                f"cannot rule out {_per_cent(high)}."
            )
    least = min(value for _, value, _ in known)
    each, value, high = next(found for found in known if found[1] <= least + _HARDLY_MORE)
    return each, (
        f"No hub that may go has much less of a chance of working loose {span}, but that is {_per_cent(value)} in 100 "
        f"(at most {_per_cent(high)}), over {limit}: the gap that stays is the shaft's own. Say so to its owner, and "
        "have it looked at after the first hours."
    )


def _per_cent(share: float) -> str:
    return f"{100 * share:.1f}" if share < 0.0995 else f"{100 * share:.0f}"


def _beyond(candidate: _Candidate) -> str:
    gap = float(candidate.option.fit.gap_left_um.mean())
    return (
        f"Even the loosest hub that is sure to be tight would leave a gap of {gap:.0f} µm on average, more than any on "
        "record, so that nothing is known of how long it would last. Fittings on record with such gaps and what became "
        "of them, or a shaft that is built up and ground, would lift this."
    )


def joined_names(names: tuple[str, ...]) -> str:
    """Join names by "and"."""
    return " and ".join(names)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _chance(share: float) -> str:
    """Say a chance counted over draws: never that something is certain."""
    return "over 99 %" if share > 0.99 else "under 1 %" if share < 0.01 else _percent(share)


def _again(reason: str) -> Advice:
    return Advice(
        do="measure-again",
        undersize_um=None,
        method=None,
        why=f"It cannot be chosen for yet: {reason}. An inspection by another hand with a micrometer, with the check "
        "piece measured first, would tell; more readings by the same hand would not.",
    )


def _special(options: list[SizeOption], special_um: float | None, limits: AdviceLimits) -> Advice:
    best = f"the tightest on offer, {options[-1].undersize_um:g} µm undersize, grips" if options else "nothing on offer"
    chance = f" with a chance of only {_chance(options[-1].tight)}" if options else ""
    if special_um is None:
        return Advice(
            do="decline",
            undersize_um=None,
            method=None,
            why=f"No hub would be tight on it: {best}{chance}, and none tighter can be made on the grid. Only a shaft "
            "that is built up and ground, or another one, lifts this.",
        )
    return Advice(
        do="make-special",
        undersize_um=special_um,
        method="workshop-fitted",
        why=f"No hub on offer is sure enough to be tight: {best}{chance}, {_percent(limits.sure)} is asked for. One of "
        f"{special_um:g} µm undersize would be.",
    )


def _send(chosen: _Candidate, beside: str, evidence: Evidence, limits: AdviceLimits, *, loosest: bool) -> Advice:
    """Advise a hub, with what speaks for it; `loosest`: whether no looser hub on offer is sure enough to be tight."""
    option, most = chosen.option, chosen.most_um
    it_is = "It is the loosest hub that is" if loosest else "It is"
    gripped = f"{_percent(limits.gripped_share)} of the splines"
    grip = f"{it_is} sure enough ({_chance(option.tight)}) to grip at least {gripped}"
    each = float(option.fit.total_filing_um.mean()) / evidence.places
    work = {
        "as-supplied": f"{grip}, and it should go on without filing ({_chance(chosen.goes_on)} sure).",
        "owner-fitted": f"{grip}; about {each:.0f} µm have to come off at a place on average, hardly more than "
        f"{most:.0f} µm at any, roughly {chosen.minutes:.0f} minutes of filing.",
        "workshop-fitted": f"{grip}, but as much as {most:.0f} µm may have to come off at one place, roughly "
        f"{chosen.minutes:.0f} minutes of filing: too much to leave to an owner.",
    }[chosen.method]
    return Advice(
        do="send-shaft-here" if chosen.method == "workshop-fitted" else "send",
        undersize_um=option.undersize_um,
        method=chosen.method,
        why=f"{work} {beside}".strip(),
    )
