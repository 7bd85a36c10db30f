"""What tolerances give a hub, in short: standard fits on new and worn shafts, and why hubs are filed."""

from __future__ import annotations

from typing import Final

from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE, ShortAnswer, SmallTable
from wearstats.report.words.phrases import millimetres, sure_microns
from wearstats.studies.limits.answer import LimitsStudy, PatternLimits, StandardFit

_TIGHT: Final = "≤ 0.025: of new pairs, by how their sizes lie within the limits: in the middle, or anywhere"


def limits_answers(study: LimitsStudy) -> list[ShortAnswer]:
    """Say for each pattern what standard fits give."""
    return [_answer(name, limits) for name, limits in study.by_pattern.items()]


def limits_sentences(study: LimitsStudy) -> list[str]:
    """Say all of it in words."""
    lines = []
    for name, limits in study.by_pattern.items():
        lines += [f"{name}: {say(limits.verdict)}.", f"{name}: {say(limits.source)}."]
        lines += [
            f"{name}, {each.meant}, {each.classes}: hub {_span(each.fit.hub.low_um, each.fit.hub.high_um)} mm, shaft "
            f"{_span(each.fit.shaft.low_um, each.fit.shaft.high_um)} mm of the width; clearance "
            f"{_span(each.fit.low_um, each.fit.high_um)} mm."
            for each in limits.fits
        ]
        lines += _rest(name, limits)
    return lines


def _answer(name: str, limits: PatternLimits) -> ShortAnswer:
    head = ("fit of the width", "class", "new shaft, mm", "worn shaft, mm", "new ≤ 0.025, %")
    table = SmallTable(head=head, rows=tuple(_row(each) for each in limits.fits), left=frozenset({0, 1}), note=_TIGHT)
    return ShortAnswer(
        question="What do limits give {}?",
        about=name,
        verdict=say(limits.verdict),
        body=(*((table,) if limits.fits else ()), f"{say(limits.source)}.", *_rest(name, limits)),
        foot=SURE if limits.worn_um.value is not None else "",
        more="wearstats limits --full",
    )


def _row(each: StandardFit) -> tuple[str, ...]:
    low, high = sorted(each.within_25)
    worn = "not known" if each.worn_um is None else _span(*each.worn_um)
    return (
        each.meant,
        each.classes,
        _span(each.fit.low_um, each.fit.high_um),
        worn,
        f"{low * 100:.0f} to {high * 100:.0f}",
    )


def _rest(name: str, limits: PatternLimits) -> list[str]:
    lines = []
    if limits.worn_um.value is not None:
        lines.append(f"Worn: by {sure_microns(limits.worn_um)}, as shafts on record are on average.")
    if limits.centring is not None:
        lines.append(
            f"Centred on the minor diameter, H7/h7: {_span(limits.centring.low_um, limits.centring.high_um)} mm."
        )
    return [*lines, f"So hubs are kept in undersizes and filed to the shaft: wearstats stock --pattern {name}."]


def _span(low_um: float, high_um: float) -> str:
    return f"{millimetres(low_um)} to {millimetres(high_um)}"
