"""Reading typed dates: ISO 8601 only, so that no day is ever taken for a month."""

from __future__ import annotations

import calendar
import datetime
import re
from dataclasses import dataclass

from wearstats.domain.typed import TypedValueError, quoted

_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")
_SLASHED = re.compile(r"([0-9]{1,2})[/.\- ]([0-9]{1,2})(?:[/.\- ]([0-9]{4}|[0-9]{2}))?")
_YEAR_FIRST = re.compile(r"([0-9]{4})[/. ]?([0-9]{1,2})[/. ]?([0-9]{1,2})")
_ALLOWED = "a date written YYYY-MM-DD"
_EARLIEST, _LATEST = 1900, 2199


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOrMonth:
    """A date known to the day, or only to the month.

    Parameters
    ----------
    text : str
        As typed.
    first, last : datetime.date
        First and last day it can mean; equal where the day is known.
    """

    text: str
    first: datetime.date
    last: datetime.date

    @property
    def day_known(self) -> bool:
        """Whether the day itself was given."""
        return self.first == self.last


def parse_date(text: str) -> datetime.date:
    """Read a date written ``YYYY-MM-DD``.

    Parameters
    ----------
    text : str
        As typed; a time of midnight, as spreadsheets add it, is passed over.

    Returns
    -------
    datetime.date

    Raises
    ------
    TypedValueError
        For any other order or mark, with the meanings it could have, and for days that do not exist.
    """
    bare = text.strip()
    match = _DAY.fullmatch(bare)
    if match is None:
        raise _refusal(text, bare)
    return _day(text, int(match[1]), int(match[2]), int(match[3]))


def parse_day_or_month(text: str) -> DayOrMonth:
    """Read a date written ``YYYY-MM-DD`` or, where the day is not known, ``YYYY-MM``; raises `TypedValueError`."""
    bare = text.strip()
    match = _MONTH.fullmatch(bare)
    if match is None:
        try:
            day = parse_date(text)
        except TypedValueError as refused:
            allowed = f"{_ALLOWED}, or YYYY-MM where the day is not known"
            raise TypedValueError(refused.found, allowed=allowed, next_step=refused.next_step) from None
        return DayOrMonth(text=text, first=day, last=day)
    first = _day(text, int(match[1]), int(match[2]), 1)
    return DayOrMonth(text=text, first=first, last=first.replace(day=_days_in(first.year, first.month)))


def _days_in(year: int, month: int) -> int:
    return calendar.monthrange(year, month)[1]


def _day(text: str, year: int, month: int, day: int) -> datetime.date:
    """Make a day that exists, or say why it does not."""
    if not _EARLIEST <= year <= _LATEST:
        raise TypedValueError(f"{quoted(text)} is in the year {year}", allowed=f"years {_EARLIEST} to {_LATEST}")
    if not 1 <= month <= 12:
        raise TypedValueError(f"{quoted(text)}: there is no month {month}", allowed=_ALLOWED)
    days = _days_in(year, month)
    if not 1 <= day <= days:
        name = calendar.month_name[month]
        raise TypedValueError(
            f"{quoted(text)}: {name} {year} has {days} days", allowed=_ALLOWED, next_step="correct the day"
        )
    return datetime.date(year, month, day)


def _spelled(year: int, month: int, day: int) -> str | None:
    """Write a date in full and in ISO form; None where there is no such day."""
    try:
        value = datetime.date(year, month, day)
    except ValueError:
        return None
    return f"{day} {calendar.month_name[month]} {year} ({value.isoformat()})"


def _refusal(text: str, bare: str) -> TypedValueError:
    """Say what a date in another order could mean."""
    if not bare:
        return TypedValueError("nothing is written", allowed=_ALLOWED)
    year_first = _YEAR_FIRST.fullmatch(bare)
    if year_first is not None:
        spelled = _spelled(int(year_first[1]), int(year_first[2]), int(year_first[3]))
        step = f"if {spelled} is meant, write it so" if spelled else "there is no such day"
        return TypedValueError(f"{quoted(text)} is not written YYYY-MM-DD", allowed=_ALLOWED, next_step=step)
    slashed = _SLASHED.fullmatch(bare)
    if slashed is None:
        return TypedValueError(f"{quoted(text)} is no date", allowed=_ALLOWED)
    one, two, year_text = int(slashed[1]), int(slashed[2]), slashed[3]
    if year_text is None:
        # a leap year, so that the 29th of February is not called impossible
        exists = _spelled(2000, two, one) or _spelled(2000, one, two)
        found = f"{quoted(text)} has no year" if exists else f"{quoted(text)} has no year, and there is no such day"
        return TypedValueError(found, allowed=_ALLOWED)
    year = int(year_text) + (2000 if len(year_text) == 2 else 0)
    meanings = [spelled for spelled in (_spelled(year, two, one), _spelled(year, one, two)) if spelled]
    if not meanings:
        return TypedValueError(f"{quoted(text)}: there is no such day, day first or month first", allowed=_ALLOWED)
    if len(set(meanings)) == 1:
        return TypedValueError(
            f"{quoted(text)} is not written YYYY-MM-DD", allowed=_ALLOWED, next_step=f"write {meanings[0]}"
        )
    return TypedValueError(
        f"{quoted(text)} may be {meanings[0]}, day first, or {meanings[1]}, month first",
        allowed=_ALLOWED,
        next_step="write the one that is meant",
    )
