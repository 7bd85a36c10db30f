"""Which sets of sizes are as good as the chosen one, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.report.stock.amounts import engraved, number_word

if TYPE_CHECKING:
    from wearstats.analysis.stock.sizes.choice import SizeChoice


def as_good_in_words(choice: SizeChoice) -> list[str]:
    """Name today's, how many other sizes would do, and what may stand for one of the chosen."""
    chosen = set(choice.chosen.undersizes_um)
    said: list[str] = []
    numbers: list[str] = []
    instead: dict[float, list[str]] = {}
    for other in choice.as_good_um:
        only_there, only_here = sorted(set(other) - chosen), sorted(chosen - set(other))
        if len(other) == len(chosen) and len(only_there) == 1:
            instead.setdefault(only_here[0], []).append(engraved(only_there[0]))
        elif choice.today is not None and other == choice.today.undersizes_um:
            said.append("today's")
        else:
            numbers.append(number_word(len(other)))
    said += [f"{_either(numbers)} sizes"] if numbers else []
    return said + [f"{_either(sizes)} for {engraved(um)}" for um, sizes in sorted(instead.items())]


def _either(names: list[str]) -> str:
    """Name one or two of them, more by their ends."""
    return f"{names[0]} to {names[-1]}" if len(names) > 2 else " or ".join(names)
