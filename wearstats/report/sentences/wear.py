"""How worn the shafts are, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from wearstats.analysis.estimate import Estimate
from wearstats.report.sentences.phrases import UNKNOWN, count, day, joined, sentence, sure_share, sure_size

if TYPE_CHECKING:
    from wearstats.studies.wear import WearStudy

_SPREADS = {
    "shaft": "shafts of one pattern differ from one another by",
    "spline": "the splines of one shaft by",
    "shaft_station": "a shaft's own hollow or taper makes",
    "cell": "single places beyond that",
}


def wear_sentences(study: WearStudy) -> list[str]:
    """Answer the question in a few paragraphs: how much, how unlike, how fast, how sure."""
    until = f"Up to {day(study.as_of)}, {count(study.shafts, 'shaft')} gave {count(study.readings, 'reading')}"
    parts = [sentence(until), *_how_much(study), _how_fast(study), *_spread(study.components_um)]
    return [part for part in parts if part]


def _how_much(study: WearStudy) -> list[str]:
    mean = sentence(f"On average a spline is below its new width by {sure_size(study.wear_mean_um)}")
    quantiles = []
    for key, words in (("0.5", "half the shafts"), ("0.9", "one shaft in ten")):
        estimate = study.quantiles_um.get(key)
        if estimate is not None and estimate.value is not None:
            quantiles.append(f"{words} have lost more than {sure_size(estimate)}")
    lines = [mean] if not quantiles else [f"{mean} {sentence(joined(quantiles).replace('ten have', 'ten has'))}"]
    if study.unworn_share.value is not None:
        lines.append(
            sentence(f"As good as unworn are {sure_share(study.unworn_share)} shafts".replace(" in 100", " of 100"))
        )
    return lines


def _how_fast(study: WearStudy) -> str:
    if study.growth.value is None:
        return sentence(f"How fast the wear grows {UNKNOWN}: {study.growth.method}".removesuffix(": "))
    return sentence(f"In 1000 running hours the wear grows by {sure_size(study.growth)}")


def _spread(components_um: Mapping[str, Estimate]) -> list[str]:
    """Say how unlike shafts are, and what a reading is worth; all as one standard deviation."""
    unlike = [
        f"{words} {sure_size(components_um[key])}"
        for key, words in _SPREADS.items()
        if key in components_um and components_um[key].value is not None
    ]
    lines = []
    if unlike:
        lines.append(sentence(f"How unlike they are, as one standard deviation: {'; '.join(unlike)}"))
    lines += _trust(components_um)
    return lines


def _trust(components_um: Mapping[str, Estimate]) -> list[str]:
    lines = []
    home, workshop = (components_um.get(f"repeatability_{place}") for place in ("home", "workshop"))
    repeats = [
        f"{sure_size(estimate)} {words}"
        for estimate, words in ((home, "at home"), (workshop, "in the workshop"))
        if estimate is not None and estimate.value is not None
    ]
    if repeats:
        lines.append(
            sentence(
                f"Readings of the same place by the same hand scatter by one standard deviation of {joined(repeats)}"
            )
        )
    biases = [
        f"{words} {sure_size(components_um[key])}"
        for key, words in (("measurer", "this hand with this gauge"), ("inspection", "this occasion"))
        if key in components_um and components_um[key].value is not None
    ]
    if biases:
        lines.append(
            sentence(
                f"What all readings of an inspection share, and more readings do not cure, is worth {joined(biases)}"
            )
        )
    return lines
