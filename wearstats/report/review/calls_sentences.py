"""Whom to call, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import count, in_hundred, sentence

if TYPE_CHECKING:
    from wearstats.studies.review.calls import CallsStudy

SHOWN = 20
"""Hubs printed; a file holds all."""


def calls_sentences(study: CallsStudy) -> list[str]:
    """Say who comes first and why, how many are overdue, and what a year of calls would teach."""
    hubs = len(study.calls)
    lines = []
    if study.urgent:
        first = study.calls.iloc[0]
        lines += [
            f"{count(study.urgent, 'hub')} of {hubs} in use may be loose within a quarter with a chance of 10 in 100 "
            "or more; call these owners first, and say: stop, check for rattle before the next start",
            f"first shaft {first['shaft']}, {in_hundred(first['risk'])} in 100",
        ]
    lines.append(
        f"{study.overdue} of {hubs} owners should have been asked by now: 1, 3, 6 and 12 months after a hub went on, "
        "then every year"
    )
    if study.slope_sd is not None and study.slope_sd_after is not None:
        less = 1 - study.slope_sd_after / study.slope_sd
        lines.append(
            f"ten answered calls a week for a year would make the figure for how the gap matters {in_hundred(less)} in "
            "100 surer"
        )
    if study.sampled_shafts is not None:
        lines.append(
            f"looked at are the hubs of {count(study.sampled_shafts, 'shaft')} taken at random; with --pattern others "
            "are looked at"
        )
    if study.why_no_law:
        lines.append(f"hubs stand by their due day alone, for {say(study.why_no_law)}")
    return [sentence(line) for line in lines]
