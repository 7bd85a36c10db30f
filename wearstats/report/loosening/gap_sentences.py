"""How the chance of working loose goes with the gap, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearstats.analysis.estimate import Estimate, may_be_any_share
from wearstats.report.loosening.record_sentences import record_sentences
from wearstats.report.words.phrases import (
    bracket,
    count,
    in_100,
    in_hundred,
    joined,
    months,
    sentence,
    sure_share,
    two_figures,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wearstats.analysis.survival.group_risks import GroupRisk
    from wearstats.studies.loosening.gap_risk import GapRisk
    from wearstats.studies.loosening.validation import GapTrust, Senders

_SHOWN_UM = (0.0, 10.0, 20.0, 30.0, 40.0)
_MUCH_ASSUMED = 0.2
_BETTER = 2.0


def gap_sentences(answer: GapRisk, *, horizon_months: float, risk_limit: float) -> list[str]:
    """Say how the risk goes with the gap, what gap keeps it under the limit, and what else it goes with.

    Parameters
    ----------
    answer : GapRisk
        The answer.
    horizon_months, risk_limit : float
        Month of the risks, and the chance still accepted (0 to 1).
    """
    risks = _risks(answer, horizon_months)
    lines = [
        *_slope(answer),
        *(_unseen(answer) if _matters(answer) else []),
        *risks,
        # a limit is read off these chances: where none is known, there is none
        *([_limit(answer.at_limit, horizon_months, risk_limit)] if risks else []),
        *_without_gap(answer),
        *_notes(answer),
        *(record_sentences(answer.records) if answer.records else []),
        *(trust_sentences(answer.trust, shown=_matters(answer)) if answer.trust else []),
    ]
    return [sentence(line) for line in lines]


def trust_sentences(trust: GapTrust, *, shown: bool) -> list[str]:
    """Say how far the model can be trusted; whether the data show that the gap matters at all is known by then."""
    return [*_form(trust, shown=shown), *_held_back(trust), *_choice(trust), *_measures(trust)]


def play_sentences(by_play: Mapping[str, GroupRisk], *, horizon_months: float) -> list[str]:
    """Say whether hubs with more than a thou of play do worse, where play was measured."""
    if not by_play:
        return []
    parts = []
    words = {"within": "no more than 25 µm", "over": "more than 25 µm"}
    for name, group in by_play.items():
        risk = group.risk(horizon_months)
        rate = "" if may_be_any_share(risk) or risk.value is None else f", {sure_share(risk, '')} by the horizon"
        hubs = count(group.fittings, "hub was", "hubs were")
        parts.append(f"{hubs} measured to have {words[name]} of play and {group.failures} worked loose{rate}")
    verdict = _play_verdict(by_play, horizon_months)
    return [sentence(f"{'; '.join(parts)}{verdict}")]


def _play_verdict(by_play: Mapping[str, GroupRisk], horizon_months: float) -> str:
    if len(by_play) < 2:
        return "; on a thou being too much that says nothing, for all lie on one side of it"
    tight, slack = (by_play[name].risk(horizon_months) for name in ("within", "over"))
    if tight.high is None or slack.low is None or slack.low <= tight.high:
        return "; these are too few to say whether a thou of play is too much"
    return "; more than a thou of play goes with more failures"


def _matters(answer: GapRisk) -> bool:
    """Say whether the data show that the risk goes with the gap."""
    low, high = answer.corrected.low, answer.corrected.high
    return low is not None and high is not None and not low <= 0 <= high


def _slope(answer: GapRisk) -> list[str]:
    slope = answer.corrected
    if slope.value is None or slope.low is None or slope.high is None:
        return []
    times, low, high = (math.exp(value) for value in (slope.value, slope.low, slope.high))
    sure = bracket(Estimate(value=times, low=low, high=high), "{:.2g}".format)
    rate = f"each 10 µm more of gap left goes with {times:.2g} times the rate of working loose{sure}"
    head = f"{rate}, so these data do not show that the gap matters" if slope.low <= 0 <= slope.high else rate
    if answer.as_read.value is not None:
        head += f"; taking the readings at their word it would be {math.exp(answer.as_read.value):.2g} times"
    lines = [head]
    if answer.assumed_share > _MUCH_ASSUMED:
        lines.append(
            f"with only {count(answer.failures, 'failure')} on record, {in_hundred(answer.assumed_share)} in 100 parts "
            "of that is assumption, not evidence: slopes are taken to be moderate"
        )
    return lines


def _unseen(answer: GapRisk) -> list[str]:
    """Say how strong a cause not on record would have to be: neither readings nor hubs tell of the owner."""
    cause = answer.unseen
    if cause.e_value.value is None or cause.e_value.low is None or cause.e_value.low <= 1.0:
        return []
    wide, narrow = (two_figures(gap) for gap in (cause.far_um, cause.near_um))
    return [
        "to explain that away, something not written down, a hard duty or a careless owner, would have to go with "
        f"both a gap of {wide} µm rather than {narrow} and working loose by a factor of {cause.e_value.value:.1f}; to "
        f"make it doubtful, by {cause.e_value.low:.1f}"
    ]


def _risks(answer: GapRisk, horizon_months: float) -> list[str]:
    rows = answer.risk[
        (answer.risk["months"] == horizon_months)
        & answer.risk["gap_left_um"].isin(_SHOWN_UM)
        & answer.risk["status"].eq("ok")
    ]
    told = [
        f"{in_100(chance)} at {'no gap' if um == 0 else f'{um:.0f} µm'}"
        for um, value, low, high in rows[["gap_left_um", "value", "low", "high"]].itertuples(index=False)
        if not may_be_any_share(chance := Estimate(value=value, low=low, high=high))
    ]
    return [f"of 100 hubs, so many work loose within {months(horizon_months)}: {joined(told)}"] if told else []


def _limit(at_limit: Estimate, horizon_months: float, risk_limit: float) -> str:
    under = f"under {in_hundred(risk_limit)} in 100 within {months(horizon_months)}"
    if at_limit.value is not None:
        # the open ends are said too: nothing is certain at no gap, or up to the largest on record
        open_high = "" if at_limit.high is not None else ", and it may be any gap on record"
        return (
            f"the largest mean gap on record that stayed {under} is {two_figures(at_limit.value)} µm"
            f"{bracket(at_limit, two_figures)}{open_high}; that is no approval of any fit"
        )
    if at_limit.status == "beyond-data":
        surely = f"surely up to {two_figures(at_limit.low)} µm" if at_limit.low else "surely at none"
        return f"by the curve the risk stays {under} at every gap on record, {surely}; wider ones are beyond these data"
    return f"no gap on record stays surely {under}: by the curve the risk is over that even where no gap is left"


def _without_gap(answer: GapRisk) -> list[str]:
    if not answer.without_gap:
        return []
    return [
        f"{count(answer.without_gap, 'fitting is', 'fittings are')} left out of this, for no reading of the shaft was "
        "in hand when the hub was chosen"
    ]


def _notes(answer: GapRisk) -> list[str]:
    if not answer.indicators:
        return []
    used = joined([f"{note.name} ({note.notes})" for note in answer.indicators])
    return [f"what was noted when hubs went on tells more of their gaps and is used: {used}"]


def _form(trust: GapTrust, *, shown: bool) -> list[str]:
    form = trust.form
    if form is None:
        return ["failures are too few to tell a threshold from a steady rise with the gap"]
    if form.straight and not shown:
        return ["nor do they show a threshold beyond which it would"]
    if form.straight:
        return ["a steady rise fits these failures; no threshold shows below which the gap would not matter"]
    if form.threshold_gain > 0 and form.threshold_p <= form.curve_p:
        return [f"the risk seems to rise only beyond a gap of about {two_figures(form.threshold_um)} µm, not steadily"]
    return ["the risk does not rise steadily with the gap: read the curve as an average"]


def _held_back(trust: GapTrust) -> list[str]:
    held = trust.held_back
    if held is None or held.log_score_gain.low is None or held.log_score_gain.high is None:
        return ["failures are too few to try the model on shafts it has not seen"]
    better = (
        "predicts shafts it has not seen better than a model without the gap"
        if held.log_score_gain.low > 0
        else "does not surely predict shafts it has not seen better than a model without the gap"
    )
    if held.concordance is None or held.concordance_without_gap is None:
        return [f"the model {better}; of hubs that failed and hubs that did not there is no pair to compare"]
    return [
        f"the model {better}: of two hubs, one that failed and one that did not, it gives the first the greater risk "
        f"in {in_hundred(held.concordance)} of 100 pairs (without the gap {in_hundred(held.concordance_without_gap)})"
    ]


def _choice(trust: GapTrust) -> list[str]:
    choice, senders = trust.choice, trust.senders
    if senders is not None and senders.used:
        return [_allowed_for(senders)]
    if choice.ignorable is None:
        return [
            "whether hubs were chosen by more than the readings on record cannot be told: too few shafts were measured "
            "once more; if they were, the slope is off"
        ]
    if choice.ignorable:
        return [
            f"on {count(choice.shafts, 'shaft')} measured once more, the other readings do not predict the hub that "
            "was sent, so the choice seems to rest on what is on record"
        ]
    return [
        "beware: on shafts measured once more, the other readings predict the hub that was sent, so the choice rested "
        "on more than is on record, and the slope against the gap may be off either way"
    ]


def _allowed_for(senders: Senders) -> str:
    """Say what senders knew beyond the readings, and what the slope would be if they had known nothing."""
    worth = senders.worth
    again = count(senders.measured_again, "shaft")
    low, high = (in_hundred(end or 0.0) for end in (worth.low, worth.high))
    without = (
        "on the readings alone, each 10 µm would go with "
        f"{math.exp(senders.log_hazard_per_10um_without):.2g} times the rate"
    )
    if senders.surely:
        return (
            f"on {again} measured once more, whoever chose the hub knew {in_hundred(worth.value or 0.0)} in 100 parts "
            f"of what the readings on record missed ({low} to {high}), so the size sent is taken as a sign of the "
            f"width; {without}"
        )
    return (
        f"{again} measured once more leave open how much whoever chose the hub knew of what the readings on record "
        f"missed ({low} to {high} in 100 parts), and that is allowed for; {without}"
    )


def _measures(trust: GapTrust) -> list[str]:
    words = {"three_tightest_um": "the gap of the three tightest splines", "contact_share": "the share in contact"}
    better = {name: gain for name, gain in trust.measures.items() if gain > _BETTER}
    if better:
        best = max(better, key=lambda name: better[name])
        return [f"{words[best]} predicts failures better than the mean gap does"]
    worse = [words[name] for name, gain in trust.measures.items() if gain < -_BETTER and name in words]
    return [f"the mean gap predicts failures better than {joined(worse)}"] if worse else []
