"""Which hub to send for one shaft, in words: what comes first, what then, and what the other hub would cost."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.analysis.advice.outcomes import AS_SUPPLIED, OWNER, WORKSHOP
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.analysis.remark import remark
from wearstats.report.contact.sentences import fitting_seen_sentence
from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import in_hundred, sentence, undersize, whole
from wearstats.studies.shaft.costs import IN_MINUTES

if TYPE_CHECKING:
    from wearstats.analysis.advice.rule import Candidate
    from wearstats.studies.shaft.answer import Advice, ShaftStudy

METHOD_WORDS: Final = {
    AS_SUPPLIED: "to go on as it is supplied, without filing",
    OWNER: "to be filed and fitted by the owner",
    WORKSHOP: "to be filed and fitted in the workshop",
}

_THEN: Final = {
    First.STOP_AND_CHECK: "if another is wanted",
    First.NOTHING_TO_SEND: "if one is wanted",
    First.DRESS_AND_MEASURE: "by the readings as they are",
    First.MEASURE_AGAIN: "by the readings as they are",
    First.MEASURE_FIRST: "by the readings as they are",
}


_BETWEEN: Final = {
    First.DRESS_AND_MEASURE: "dress it and measure it again first",
    First.MEASURE_AGAIN: "have it measured again first",
    First.MEASURE_FIRST: "measure it first",
}


def when_words(advice: Advice) -> str:
    """Say by what readings, or when, the hub would be sent that is named though something else comes first."""
    if advice.first is not None and advice.second in _BETWEEN:
        return f"{_THEN[advice.first]}, {_BETWEEN[advice.second]}; as it is known now"
    if any(told.code == Finding.STRAY_READING for told in advice.because):
        return "by the other readings"
    return "" if advice.first is None else _THEN[advice.first]


def shaft_sentences(study: ShaftStudy) -> list[str]:
    """Answer the question: what to do first and why, what would be sent then, and what to beware of on this shaft."""
    lines = [sentence(f"Shaft {study.shaft} ({study.pattern}): {headline(study.advice)}"), *then_lines(study)]
    if study.bore is not None:
        lines.append(sentence(say(study.bore)))
    if study.seen is not None:
        lines.append(fitting_seen_sentence(study.seen, orders=study.advice.sent_now is None))
    return lines + caution_lines(study)


def headline(advice: Advice) -> str:
    """Say in one line what to do now, and why."""
    why = say(advice.because[0]) if advice.because else ""
    if advice.first is None:
        return f"{advice_words(advice)}: {why}"
    if advice.because and advice.because[0].code == Finding.SCRAPPED:
        return f"{why}: it asks for no hub"
    return f"{say(remark(advice.first))}: {why}"


def advice_words(advice: Advice) -> str:
    """Say what to do now, as an order that cannot be misread."""
    if advice.first is not None:
        return say(remark(advice.first))
    return "send no hub" if advice.hub is None else send_words(advice.hub)


def send_words(hub: Candidate) -> str:
    """Say what is sent, and how it goes on."""
    named, how = hub_words(hub.undersize_um, hub=hub.hub), METHOD_WORDS[hub.method]
    if hub.second_um is not None:
        return f"send {named} and {hub_words(hub.second_um)}, one to come back, {how}"
    if hub.special:
        return f"have a hub made {undersize(hub.undersize_um, inches=True)} undersize, {how}"
    if hub.method == WORKSHOP:
        return f"have the shaft sent to the workshop, where {named} is fitted to it"
    return f"send {named}, {how}"


def then_words(hub: Candidate) -> str:
    """Say what would be sent once what comes first is done: no order, for there is one already."""
    named, how = hub_words(hub.undersize_um, hub=hub.hub), METHOD_WORDS[hub.method]
    if hub.second_um is not None:
        return f"it would be {named} and {hub_words(hub.second_um)}, one to come back, {how}"
    if hub.special:
        return f"it would be a special {undersize(hub.undersize_um, inches=True)} undersize, {how}"
    return f"it would be {named}, {how}"


_FITTED: Final = {AS_SUPPLIED: "as supplied", OWNER: "filed by the owner", WORKSHOP: "filed in the workshop"}


def short_words(hub: Candidate) -> str:
    """Name a hub as it is engraved, in mm, and how it goes on: ``0.050 (H0197), filed by the owner``."""
    named = f"{hub.undersize_um / 1000:.3f}" + (f" ({hub.hub})" if hub.hub else "")
    if hub.second_um is not None:
        named += f" and {hub.second_um / 1000:.3f}, one to come back"
    return f"{'a special of ' if hub.special else ''}{named}, {_FITTED[hub.method]}"


def hub_words(undersize_um: float, *, hub: str | None = None) -> str:
    """Name a hub by its undersize, and by its number where it has one: ``the hub 0.05 mm (0.0020 in) undersize``."""
    named = "the standard hub" if undersize_um == 0 else f"the hub {undersize(undersize_um, inches=True)} undersize"
    return named if hub is None else f"{named} (number {hub})"


def then_lines(study: ShaftStudy) -> list[str]:
    """Say what would be sent once what comes first is done, what it takes, and what the runner-up would."""
    advice, hub = study.advice, study.advice.hub
    lines = [sentence(say(told)) for told in advice.because[1 : _gate_length(advice)]]
    if hub is None:
        return lines
    if advice.first is not None:
        reason = advice.then.because[0]
        when = f"{when_words(advice)} ({study.measured_on.isoformat()})"
        lines.append(sentence(f"{when}: {then_words(hub)}: {say(reason)}"))
    lines.append(sentence(_takes(study, hub)))
    if advice.runner_up is not None:
        lines.append(sentence(runner_up_words(study, hub, advice.runner_up)))
    return lines


def _gate_length(advice: Advice) -> int:
    return len(advice.because) - len(advice.then.because) if advice.first is not None else len(advice.because)


def _takes(study: ShaftStudy, hub: Candidate) -> str:
    """Say what a hub takes, and how long it holds."""
    parts = [f"about {hub.minutes:.0f} minutes of filing" if hub.method != AS_SUPPLIED else "no filing"]
    risk = hub.risk
    if risk.value is None:
        parts.append("its chance of working loose is not known")
    else:
        sure = f" ({in_hundred(risk.low or 0.0)} to {in_hundred(risk.high or 1.0)}, 95 % sure)"
        parts.append(
            f"of 100 such hubs {in_hundred(risk.value)}{sure} work loose within {study.horizon_months:g} months"
        )
    if hub.cost.value is not None:
        parts.append(f"{_money(hub.cost.value, study)} expected in all")
    return "; ".join(parts)


def runner_up_words(study: ShaftStudy, hub: Candidate, other: Candidate) -> str:
    """Say what another hub would cost or save."""
    named = "the standard hub" if other.undersize_um == 0 else f"{other.undersize_um / 1000:.3f} mm"
    if other.special:
        named += " (a special)"
    if hub.risk.value is None or other.risk.value is None or hub.cost.value is None or other.cost.value is None:
        return f"the next would be {named}"
    safer = hub.risk.value - other.risk.value
    chance = f"{in_hundred(abs(safer))} in 100 {'safer' if safer >= 0 else 'less safe'}"
    minutes, cost = other.minutes - hub.minutes, other.cost.value - hub.cost.value
    return (
        f"{named} would be {chance}, for {abs(minutes):.0f} minutes {'more' if minutes >= 0 else 'less'} and "
        f"{_money(abs(cost), study)} {'more' if cost >= 0 else 'less'}"
    )


def _money(amount: float, study: ShaftStudy) -> str:
    """Say an amount; where the shop has given no price it is told in minutes of filing."""
    return f"{whole(amount)} minutes' worth" if study.currency == IN_MINUTES else f"{whole(amount)} {study.currency}"


def caution_lines(study: ShaftStudy) -> list[str]:
    """Say what to beware of on this shaft, with what was noted beside its records."""
    lines = [sentence(f"a reading hardly belongs, but changes nothing: {say(told)}") for told in study.advice.beside]
    lines += [sentence(say(caution)) for caution in study.cautions]
    if study.holds_at_half_and_double is not None:
        held = "the same" if study.holds_at_half_and_double else "another"
        lines.append(sentence(f"were a failure half or twice as dear as assumed, {held} hub would be chosen"))
    return lines + [sentence(f"noted on record: {text}") for text in study.remarks]
