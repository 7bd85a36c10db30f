"""Numbers for the next batches, in the shop's own way of numbering."""

from __future__ import annotations

import re
from collections.abc import Sequence

_NUMBERED = re.compile(r"(?P<before>.*?)(?P<number>[0-9]+)")
_DATE = re.compile(r".*\b(19|20)[0-9]{2}([-/.][0-9]+)*|.*\b[0-9]{1,2}[/.][0-9]{1,4}")
"""Ends in a day, a month or a year: no number to count on from."""


def next_numbers(known: Sequence[str], count: int) -> list[str]:
    """Count on from the newest batch that ends in a number.

    Parameters
    ----------
    known : sequence of str
        Names of batches, oldest first.
    count : int
        How many are wanted.

    Returns
    -------
    list of str
        None of them known; ``1`` and on where no batch is numbered.
    """
    numbered = [found for name in known if (found := _NUMBERED.fullmatch(name)) and not _DATE.fullmatch(name)]
    before, digits = ("", 1) if not numbered else (numbered[-1]["before"], len(numbered[-1]["number"]))
    last = max((int(found["number"]) for found in numbered if found["before"] == before), default=0)
    return [f"{before}{number:0{digits}d}" for number in range(last + 1, last + count + 1)]
