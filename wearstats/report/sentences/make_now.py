"""What to put on the machine now, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.sentences.phrases import day, in_hundred, joined, sentence, undersize

if TYPE_CHECKING:
    from wearstats.studies.make_now import MakeNow


def make_now_sentences(make: MakeNow) -> list[str]:
    """Say how many of which size to make, until when that lasts, and how much of the need that serves."""
    wanted = [f"{number} of {undersize(um).split(' (')[0]}" for um, number in make.make.items() if number]
    covers = make.covers_until
    until = f"; with that a size kept first runs short, with a chance of one in ten, on {day(covers)}" if covers else ""
    lines = [f"make now {joined(wanted)}{until}" if wanted else f"make nothing now{until}"]
    fill = make.check.fill_rate
    if fill.value is not None:
        lines.append(
            f"until more can be made, in {make.stage_days:.0f} days, {in_hundred(fill.value)} in 100 needs are served "
            "from the shelf"
        )
    return [sentence(line) for line in lines]
