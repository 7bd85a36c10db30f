"""Numbers in plain words: with units, in both systems of measure, and with how sure they are."""

from __future__ import annotations

import datetime
import math

from wearstats.analysis.estimate import Estimate
from wearstats.domain.units import print_um

UNKNOWN = "cannot be told from these data"


def size(um: float) -> str:
    """Say a difference: ``0.041 mm (0.0016 in)``; thousandths of a millimetre unless it is a whole hundredth."""
    rounded = round(um)
    return print_um(rounded, decimals=2 if rounded % 10 == 0 else 3)


def undersize(um: float) -> str:
    """Say an undersize exactly as it is made: ``0.10 mm (0.0039 in)``."""
    return print_um(um)


def millimetres(um: float) -> str:
    """Say a difference in millimetres only, without the unit: ``0.041``."""
    return f"{um / 1000:.3f}".replace("-0.000", "0.000")


def sure_size(estimate: Estimate) -> str:
    """Say an estimated difference with its interval and, where it is none, what else it is."""
    if estimate.value is None:
        return UNKNOWN
    if estimate.status == "bounded":
        return _bounded(estimate)
    text = size(estimate.value)
    if estimate.status == "assumed":
        return f"{text} (assumed, these data cannot tell: {estimate.method})"
    return f"{text} ({_between(estimate, millimetres, ' mm')})" if _has_interval(estimate) else text


def sure_share(estimate: Estimate) -> str:
    """Say an estimated share as so many in a hundred, with its interval."""
    if estimate.value is None:
        return UNKNOWN
    text = f"{in_hundred(estimate.value)} in 100"
    if estimate.status == "assumed":
        return f"{text} (assumed, these data cannot tell: {estimate.method})"
    return f"{text} ({_between(estimate, in_hundred, ' in 100')})" if _has_interval(estimate) else text


def in_hundred(share: float) -> str:
    """Say a share as a number in a hundred; a decimal where whole numbers would hide it."""
    percent = 100 * share
    # below 9.95 a decimal still tells something; 0 and 100 are said only where they are exact
    decimals = 1 if 0 < percent < 9.95 or 99.5 <= percent < 100 else 0
    text = f"{percent:.{decimals}f}"
    if text in {"0.0", "100.0"} and percent not in {0.0, 100.0}:
        return "less than 0.1" if percent < 50 else "more than 99.9"
    return text.removesuffix(".0")


def count(number: int, noun: str, plural: str | None = None) -> str:
    """Say how many: ``1 shaft``, ``12 400 readings``."""
    many = plural if plural is not None else f"{noun}s"
    return f"{number:,} {noun if number == 1 else many}".replace(",", "\u202f")


def day(date: datetime.date) -> str:
    """Say a day so that nobody takes the day for the month: ``3 April 2026``."""
    return f"{date.day} {date:%B %Y}"


def months(number: float) -> str:
    """Say a time: ``12 months``."""
    return "1 month" if number == 1 else f"{number:g} months"


def joined(parts: list[str]) -> str:
    """Join with commas and a last ``and``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    stripped = text.strip()
    return stripped if not stripped else stripped[0].upper() + stripped[1:] + ("" if stripped[-1] in ".!?" else ".")


def _has_interval(estimate: Estimate) -> bool:
    return estimate.low is not None or estimate.high is not None


def _between(estimate: Estimate, words: object, unit: str) -> str:
    say = words if callable(words) else str
    sure = f"{100 * estimate.level:g} % sure"
    if estimate.low is None and estimate.high is not None:
        return f"at most {say(estimate.high)}{unit}, {sure}"
    if estimate.high is None and estimate.low is not None:
        return f"at least {say(estimate.low)}{unit}, {sure}"
    return f"between {say(estimate.low)} and {say(estimate.high)}{unit}, {sure}"


def _bounded(estimate: Estimate) -> str:
    if estimate.high is not None and math.isfinite(estimate.high):
        return f"at most {size(estimate.high)}"
    return f"at least {size(estimate.low)}" if estimate.low is not None else UNKNOWN
