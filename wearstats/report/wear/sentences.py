"""How worn the shafts are, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.wear.growth_sentences import growth_sentences
from wearstats.report.words.phrases import (
    UNKNOWN,
    count,
    day,
    in_hundred,
    joined,
    sentence,
    sure_microns,
    sure_number,
    sure_share,
    two_figures,
    undersize,
)

if TYPE_CHECKING:
    from wearstats.studies.wear.answer import WearStudy

_SPREADS = {
    "shaft": "shafts of one pattern and duty differ by",
    "spline": "the splines of a shaft by",
    "shaft_station": "its own hollow or taper makes",
    "cell": "and single places differ beyond that by",
}


def wear_sentences(study: WearStudy) -> list[str]:
    """Answer the question in a few paragraphs: how much, how unlike, how fast, how sure."""
    return [
        sentence(f"Up to {day(study.as_of)}, {count(study.shafts, 'shaft')} gave {count(study.readings, 'reading')}"),
        *_sampled(study),
        how_much(study),
        *_by_pattern(study),
        *_groups(study),
        *_unworn(study),
        *_along_spline(study),
        *_served(study),
        *_how_fast(study),
        *_spread(study.components_um),
        *([] if study.assumed is None else [sentence(say(study.assumed))]),
        *_trust(study.components_um),
        SURE,
    ]


def _sampled(study: WearStudy) -> list[str]:
    """Say what rests on some of the shafts only, where there are very many."""
    if study.from_shafts is None:
        return []
    return [
        sentence(
            "The mean is that of all of them; how readings scatter, how wear is spread, the shape along the spline and "
            f"the growth rest on shafts taken at random, {count(study.from_shafts, 'shaft')} at most"
        )
    ]


def how_much(study: WearStudy) -> str:
    """Say the mean wear and how it is spread over the shafts."""
    mean = sentence(f"On average a shaft's splines have lost {sure_microns(study.wear_mean_um)} of their width")
    found = [
        f"{words} {sure_microns(estimate)}"
        for key, words in (("0.5", "half the shafts have lost more than"), ("0.9", "one shaft in ten more than"))
        if (estimate := study.quantiles_um.get(key)) is not None and estimate.value is not None
    ]
    return f"{mean} {sentence(joined(found))}".rstrip()


def _by_pattern(study: WearStudy) -> list[str]:
    if len(study.by_pattern) < 2:
        return []
    parts = [
        f"{name} {sure_number(pattern.wear.mean_um)} on {count(pattern.shafts, 'shaft')}"
        for name, pattern in study.by_pattern.items()
        if pattern.wear is not None
    ]
    return [sentence(f"By pattern, on average, in µm: {'; '.join(parts)}")] if parts else []


def _groups(study: WearStudy) -> list[str]:
    """Say the mean wear by duty and by region, where there are several."""
    lines = []
    for word, groups in (("duty", study.by_duty), ("region", study.by_region)):
        if len(groups) > 1:
            parts = [f"{name} {sure_number(wear.mean_um)}" for name, wear in groups.items()]
            lines.append(sentence(f"By {word}, on average, in µm: {'; '.join(parts)}"))
    return lines


def _unworn(study: WearStudy) -> list[str]:
    if study.unworn_share.value is None:
        return [sentence(f"How many are as good as new: {say(study.unworn_share.method)}")]
    return [sentence(f"As good as unworn are {sure_share(study.unworn_share, 'shafts')}")]


def _along_spline(study: WearStudy) -> list[str]:
    """Say how hollow the shafts are, and whether that goes with wear."""
    lines = []
    for name, pattern in study.by_pattern.items():
        hollow, deeper = pattern.hollow.at_mean_um, pattern.hollow.per_10_um
        if hollow.value is None or deeper.value is None or deeper.low is None or deeper.high is None:
            continue
        way = "deeper" if deeper.value > 0 else "shallower"
        if deeper.low <= 0 <= deeper.high:
            told = "whether hollows deepen with wear these data cannot tell"
        else:
            told = f"with every 10 µm of wear hollows are {two_figures(abs(deeper.value))} µm {way}"
        lines.append(sentence(f"The middle of a {name} spline lies {sure_microns(hollow)} below its ends; {told}"))
    return lines


def _served(study: WearStudy) -> list[str]:
    """Say which share of each pattern's shafts the hubs on offer would serve, and which serve most."""
    lines = []
    for name, pattern in study.by_pattern.items():
        if pattern.shares.empty:
            continue
        sizes, shares = pattern.shares["undersize_um"], pattern.shares["share"]
        best = sorted(range(len(sizes) - 1), key=lambda k: -(shares.iloc[k].value or 0.0))[:2]
        most = joined([f"{_hub(sizes.iloc[k])} for {in_hundred(shares.iloc[k].value)} in 100" for k in sorted(best)])
        lines.append(
            sentence(
                f"The two hubs that serve most {name} shafts, as the loosest that grip: {most}; none on offer serves "
                f"the last {in_hundred(shares.iloc[-1].value)} in 100"
            )
        )
    return lines


def _hub(undersize_um: float) -> str:
    return "the standard hub" if undersize_um == 0 else f"{undersize(undersize_um)} undersize"


def _how_fast(study: WearStudy) -> list[str]:
    if study.growing is not None:
        return growth_sentences(study.growing)
    reason = say(study.growth.method) or UNKNOWN
    return [sentence(f"How fast wear grows with running hours: {reason}")]


def _spread(components_um: Mapping[str, Estimate]) -> list[str]:
    """Say how unlike shafts are, each as one standard deviation."""
    known = [
        f"{words} {two_figures(estimate.value)} µm"
        for key, words in _SPREADS.items()
        if (estimate := components_um.get(key)) is not None and estimate.value is not None
    ]
    return [sentence(f"How unlike they are, as one standard deviation: {', '.join(known)}")] if known else []


def _trust(components_um: Mapping[str, Estimate]) -> list[str]:
    """Say what a reading is worth: what scatters, and what all readings of an inspection share."""
    lines = []
    repeats = _known(components_um, {"repeatability_home": "at home", "repeatability_workshop": "in the workshop"})
    if repeats:
        lines.append(f"Taken again by the same hand, a reading differs by {joined(repeats)}, as one standard deviation")
    shared = _known(components_um, {"measurer": "for the hand with its gauge", "inspection": "for the occasion"})
    if shared:
        lines.append(
            "All readings of a home inspection share an error that more readings do not cure but a pin of known size, "
            f"measured along with them, does: as one standard deviation {joined(shared)}"
        )
    return [sentence(line) for line in lines]


def _known(components_um: Mapping[str, Estimate], words: Mapping[str, str]) -> list[str]:
    found = []
    for key, word in words.items():
        estimate = components_um.get(key)
        if estimate is not None and estimate.value is not None:
            assumed = " (assumed)" if estimate.status == "assumed" else ""
            found.append(f"{two_figures(estimate.value)} µm {word}{assumed}")
    return found
