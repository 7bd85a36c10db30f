"""What answers about hubs leave out, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import count, sentence

if TYPE_CHECKING:
    from wearstats.studies.counts.left_out import LeftOut


def left_out_sentences(left_out: LeftOut) -> list[str]:
    """Say what is left out and why, with the first names; nothing where nothing is."""
    return [sentence(f"Left out: {'; '.join(map(say, left_out.told))}")] if left_out.told else []


def left_out_line(left_out: LeftOut) -> list[str]:
    """Say in a line how many records cannot be as they are written; nothing where none is such."""
    number = left_out.contradicting
    if not number:
        return []
    named = "it" if number == 1 else "them"
    return [f"Left out: {count(number, 'record')} that cannot be as written; --full names {named}."]
