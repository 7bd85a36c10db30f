"""Quarters of the calendar year, written ``2026Q3``."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from typing import Self

from wearstats.errors import UsageError

_WRITTEN = re.compile(r"(\d{4})\s*[-/ ]?\s*[Qq]\s*([1-4])")
_EARLIEST, _LATEST = 1900, 2199


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Quarter:
    """One quarter.

    Parameters
    ----------
    year : int
        Calendar year.
    number : int
        1 to 4.
    """

    year: int
    number: int

    @classmethod
    def of(cls, day: datetime.date) -> Self:
        """Give the quarter in which a day lies."""
        return cls(year=day.year, number=(day.month + 2) // 3)

    @property
    def first_day(self) -> datetime.date:
        """Its first day."""
        return datetime.date(self.year, 3 * self.number - 2, 1)

    @property
    def last_day(self) -> datetime.date:
        """Its last day."""
        return self.shifted(1).first_day - datetime.timedelta(days=1)

    def shifted(self, quarters: int) -> Self:
        """Give the quarter so many later, or earlier where negative."""
        whole = 4 * self.year + self.number - 1 + quarters
        return type(self)(year=whole // 4, number=whole % 4 + 1)

    def __str__(self) -> str:
        """Write it as ``2026Q3``."""
        return f"{self.year}Q{self.number}"


def parse_quarter(text: str) -> Quarter:
    """Read a quarter.

    Parameters
    ----------
    text : str
        ``2026Q3``; small letters, a blank or a hyphen between do no harm.

    Returns
    -------
    Quarter

    Raises
    ------
    UsageError
        For anything else.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None or not _EARLIEST <= int(match[1]) <= _LATEST:
        raise UsageError(f"--quarter: '{text}' is not a quarter; write year, Q and 1 to 4, for instance 2026Q3")
    return Quarter(year=int(match[1]), number=int(match[2]))
