"""How fast shafts wear as they run, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import UNKNOWN, count, sentence, sure_microns

if TYPE_CHECKING:
    from wearstats.studies.wear.growth import GrowthStudy

_OF = {
    "tight": "While its hub stays tight a shaft loses",
    "all": "Whatever its hub does a shaft loses",
    "ages": "Old shafts compared with young ones, a shaft loses",
}


def growth_sentences(study: GrowthStudy) -> list[str]:
    """Answer the question: the rate, what a loose hub does to it, by duty, and when the next undersize is due."""
    if study.growth.value is None:
        return [sentence(f"How fast wear grows with running hours {UNKNOWN}: {say(study.growth.method)}")]
    again = f"{count(study.shafts_again, 'shaft')} measured again after a hub had run"
    lines = [sentence(f"{_OF[study.growth_of]} {sure_microns(study.growth)} in 1000 running hours ({again})")]
    loose = study.by_between["loose"]
    if study.growth_of == "tight" and loose.value is not None:
        lines.append(
            sentence(
                f"Over hours in which a hub was found loose it lost {sure_microns(loose)} in 1000 {_told_apart(study)}"
            )
        )
    duties = [f"{name} {sure_microns(rate)}" for name, rate in study.by_duty.items() if rate.value is not None]
    if len(duties) > 1:
        lines.append(sentence(f"By duty, whatever the hub did: {'; '.join(duties)}"))
    return [*lines, *_next_size(study)]


def _told_apart(study: GrowthStudy) -> str:
    faster = study.loose_minus_tight
    if not faster.side():
        return "hours, which these data cannot tell from the rate of a tight hub"
    return "hours: a loose hub wears its shaft faster" if faster.side() == 1 else "hours, less than with a tight one"


def _next_size(study: GrowthStudy) -> list[str]:
    needed = study.needed
    if needed.empty:
        return []
    told = needed[needed["needed_h"].notna()]
    if told.empty:
        return [sentence("When a shaft will need the next undersize lies beyond the hours on record for all of them")]
    first = told.sort_values("needed_h").iloc[0]
    more = count(round(max(float(first["needed_h"]), 0.0)), "hour")
    return [
        sentence(
            f"Of {count(len(needed), 'shaft')} with hours it is known for {len(told)} when the next undersize will be "
            f"due, first for {first['shaft']}, after about {more} more; for the others that lies beyond the hours on "
            "record"
        )
    ]
