"""Which sets of sizes are as good as the chosen one.

Costs of sets come out of draws, and of what is known of shafts that happen to be on record. What lies within a
hundredth of the cost is neither told apart by other draws nor worth a thought: whoever has reason to make a size a
little wider, or already has one, should know that he may.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Final

from wearstats.domain.arrays import BoolArray

AS_GOOD: Final = 0.01
"""Of the cost a year: sets that cost no more than that above the chosen one are as good; a setting."""

_Set = tuple[int, ...]


def sets_as_good(
    total: Callable[[_Set], float], chosen: _Set, others: Iterable[_Set], *, apart: BoolArray
) -> tuple[_Set, ...]:
    """Find the sets that cost a year at most `AS_GOOD` more: of others given, and of those with one size moved.

    Parameters
    ----------
    total : callable
        Cost a year of a set, given by places of its sizes, ascending.
    chosen : tuple of int
    others : iterable of tuple of int
        Sets to be looked at whatever they have in common with it.
    apart : ndarray of bool, shape (sizes, sizes)
        Whether two sizes may stand side by side in a set.

    Returns
    -------
    tuple of tuple of int
        Without the chosen one, each once: the others as given, then the moved ones by size.
    """
    most = (1.0 + AS_GOOD) * total(chosen)
    fenced = (-1, *chosen, len(apart))
    moved = (
        (*chosen[:at], to, *chosen[at + 1 :])
        for at, size in enumerate(chosen)
        for to in range(fenced[at] + 1, fenced[at + 2])
        if to != size
    )
    sound = (each for each in moved if all(apart[one, other] for one, other in pairwise(each)))
    looked_at = dict.fromkeys(each for each in (*others, *sound) if each != chosen)
    return tuple(each for each in looked_at if total(each) <= most)
