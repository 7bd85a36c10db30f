"""What taking back did, and what it leaves behind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """What an intake that takes back, or puts a name right, did.

    Parameters
    ----------
    intake : int
        Its number: with it this is itself taken back.
    kind : str
        ``undo``, ``retract``, ``rename`` or ``merge``.
    out : mapping
        Table to the number of its rows that count no more as they stood.
    back : mapping
        Table to the number of rows put in their place: as they were before, or under another name or day.
    reopened : int
        Rows kept out that are open again, since what had mended them is gone.
    closed : int
        Rows kept out by what was taken back, closed with it.
    left_behind : tuple of str
        Rows that still mention what is gone.
    """

    intake: int
    kind: str
    out: Mapping[str, int]
    back: Mapping[str, int]
    reopened: int = 0
    closed: int = 0
    left_behind: tuple[str, ...] = ()
