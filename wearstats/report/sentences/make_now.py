"""What to put on the machine now, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.sentences.phrases import count, day, in_hundred, joined, sentence, undersize

if TYPE_CHECKING:
    from wearstats.studies.make_now import MakeNow


def make_now_sentences(make: MakeNow) -> list[str]:
    """Say how many of which size to make, until when that lasts, and what the coming year will ask for."""
    wanted = [f"{number} of {undersize(um).split(' (')[0]}" for um, number in make.make.items() if number]
    covers = make.covers_until
    until = f"; with that a size kept first runs short, with a chance of one in ten, on {day(covers)}" if covers else ""
    year = make.next_year
    lines = [f"make now {joined(wanted)}{until}" if wanted else f"make nothing now{until}"]
    if year.value is not None and year.low is not None and year.high is not None:
        lines.append(
            f"the coming year will ask for about {count(round(year.value), 'hub')} of pattern {make.pattern} (between "
            f"{year.low:.0f} and {year.high:.0f}, 90 % sure)"
        )
    fill = make.check.fill_rate
    if fill.value is not None:
        lines.append(
            f"until more can be made, in {make.stage_days:.0f} days, {in_hundred(fill.value)} in 100 needs are served "
            "from the shelf"
        )
    return [sentence(line) for line in lines]
