"""What to put on the machine now, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.words.phrases import day, in_hundred, joined, sentence, undersize

if TYPE_CHECKING:
    from wearstats.studies.stock.production import MakeNow


def make_now_sentences(make: MakeNow) -> list[str]:
    """Say how many of which size to make, until when that lasts, and how much of the need that serves."""
    wanted = [f"{number} of {undersize(um).split(' (')[0]}" for um, number in make.make.items() if number]
    covers = make.covers_until
    filed = " and tighter hubs filed out" if make.files else ""
    until = (
        f"; with these on the shelf{filed}, a need of a size kept first goes unserved, with a chance of one in ten, on "
        f"{day(covers)}"
        if covers
        else ""
    )
    lines = [f"make now {joined(wanted)}{until}" if wanted else f"make nothing now{until.replace('these', 'what is')}"]
    if make.from_tighter_um:
        few = joined([undersize(um).split(" (")[0] for um in make.from_tighter_um])
        needs = "their needs" if len(make.from_tighter_um) > 1 else "its needs"
        lines.append(f"of {few} none lies there and none is made: for now tighter hubs, filed out, serve {needs}")
    fill = make.check.fill_rate
    if fill.value is not None:
        lines.append(
            f"until more can be made, in {make.stage_days:.0f} days, {in_hundred(fill.value)} in 100 needs are served "
            "from the shelf"
        )
    return [sentence(line) for line in lines]
