"""Which hub to send for one shaft, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearstats.report.contact.sentences import fitting_seen_sentence
from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import in_hundred, millimetres, sentence, size, undersize

if TYPE_CHECKING:
    from wearstats.analysis.advice.rule import Advice
    from wearstats.studies.shaft.answer import ShaftStudy

METHOD_WORDS = {
    "as-supplied": "to go on as it is supplied, without filing",
    "owner-fitted": "to be filed and fitted by the owner",
    "workshop-fitted": "to be filed and fitted in the workshop",
}


def shaft_sentences(study: ShaftStudy) -> list[str]:
    """Answer the question: what to do, why, what the hub would leave, and what to beware of on this shaft."""
    lines = [sentence(f"Shaft {study.shaft} ({study.pattern}): {advice_words(study.advice)}")]
    if study.advice.why:
        lines.append(sentence(study.advice.why))
    chosen = chosen_row(study)
    if chosen is not None:
        lines += _what_it_leaves(chosen, later=_later(study))
    if study.seen is not None:
        lines.append(fitting_seen_sentence(study.seen))
    lines += [sentence(say(caution)) for caution in study.cautions]
    return lines


def advice_words(advice: Advice) -> str:
    """Say what to do, as an order that cannot be misread."""
    hub = hub_words(advice.undersize_um) if advice.undersize_um is not None else "a hub"
    how = METHOD_WORDS.get(advice.method or "", "")
    words = {
        "send": f"send {hub}, {how}",
        "send-two": f"send {hub} and the next size tighter, {how}",
        "measure-again": "have it measured again before any hub is sent",
        "send-shaft-here": f"have the shaft sent to the workshop, where {hub} is fitted to it",
        "make-special": f"have a hub made {_special(advice.undersize_um)}, none on offer suits the shaft",
        "decline": "send no hub",
    }[advice.do]
    return words.rstrip(", ")


def _special(undersize_um: float | None) -> str:
    return "to measure" if undersize_um is None else f"{undersize(undersize_um)} undersize"


def hub_words(undersize_um: float) -> str:
    """Name a hub by its undersize: ``the hub 0.05 mm (0.0020 in) undersize``."""
    return "the standard hub" if undersize_um == 0 else f"the hub {undersize(undersize_um)} undersize"


def chosen_row(study: ShaftStudy) -> pd.Series[float] | None:
    """Find the advised hub and method among the choices; None where no hub is advised."""
    advice, choices = study.advice, study.choices_frame()
    row = choices[(choices["undersize_um"] == advice.undersize_um) & (choices["method"] == advice.method)]
    return None if advice.undersize_um is None or row.empty else row.iloc[0]


def _later(study: ShaftStudy) -> str:
    """Say what the advised hub's chance becomes beyond the first year: ``, and 7.9 within 24``."""
    told = next(
        choice.risk
        for choice in study.choices
        if (choice.undersize_um, choice.method) == (study.advice.undersize_um, study.advice.method)
    )
    return "".join(
        f", and {in_hundred(risk.value)} within {months:.0f}" for months, risk in told[1:] if risk.value is not None
    )


def _what_it_leaves(chosen: pd.Series[float], *, later: str) -> list[str]:
    clearance = float(chosen["clearance_um"])
    fit = (
        f"its spaces are narrower than the splines by {size(-clearance)} on average"
        if clearance < 0
        else f"its spaces are wider than the splines by {size(clearance)} on average"
    )
    low, high = (millimetres(float(chosen[f"gap_left_um_{end}"])) for end in ("low", "high"))
    gap = f"once it stands home the flanks keep a gap of {size(float(chosen['gap_left_um']))} on average"
    share = f"about {in_hundred(float(chosen['contact_share']))} in 100 places bear"
    lines = [f"As far as the readings tell, {fit}; {gap} (between {low} and {high} mm, 95 % sure), and {share}"]
    if pd.notna(chosen["risk"]):
        low, high = (in_hundred(float(chosen[f"risk_{end}"])) for end in ("low", "high"))
        lines.append(
            f"of 100 such hubs about {in_hundred(float(chosen['risk']))} work loose within 12 months, as far as the "
            f"record tells (between {low} and {high}, 95 % sure){later}"
        )
    return [sentence(line) for line in lines]
