"""Numbers in plain words: with units, in both systems of measure, and with how sure they are."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from wearstats.analysis.estimate import Estimate
from wearstats.domain.units import print_um
from wearstats.report.remarks.say import say

UNKNOWN = "cannot be told from these data"


def size(um: float) -> str:
    """Say a difference to a thousandth of a millimetre: ``0.041 mm (0.0016 in)``."""
    return print_um(round(um), decimals=3)


def undersize(um: float) -> str:
    """Say an undersize exactly as it is made: ``0.10 mm (0.0039 in)``."""
    return print_um(um)


def millimetres(um: float) -> str:
    """Say a difference in millimetres only, without the unit: ``0.041``."""
    text = f"{um / 1000:.3f}"
    return "0.000" if text == "-0.000" else text


def sure_size(estimate: Estimate) -> str:
    """Say an estimated difference: ``0.041 mm (0.0016 in; between 0.036 and 0.046 mm, 95 % sure)``."""
    if estimate.value is None:
        return UNKNOWN
    if estimate.status == "bounded":
        return _bounded(estimate)
    text = size(estimate.value)
    if estimate.status == "assumed":
        return f"{text} (assumed, these data cannot tell: {say(estimate.method)})"
    sure = _sure(estimate, millimetres, " mm")
    return f"{text.removesuffix(')')}; {sure})" if sure else text


def sure_share(estimate: Estimate, things: str) -> str:
    """Say an estimated share: ``12 in 100 hubs (between 8 and 17, 95 % sure)``."""
    if estimate.value is None:
        return UNKNOWN
    text = f"{in_hundred(estimate.value)} in 100 {things}"
    if estimate.status == "assumed":
        return f"{text} (assumed, these data cannot tell: {say(estimate.method)})"
    sure = _sure(estimate, in_hundred, "")
    return f"{text} ({sure})" if sure else text


def in_hundred(share: float) -> str:
    """Say a share as a number in a hundred; a decimal where whole numbers would hide it."""
    percent = 100 * share
    # below 9.95 a decimal still tells something; 0 and 100 are said only where they are exact
    decimals = 1 if 0 < percent < 9.95 or 99.5 <= percent < 100 else 0
    text = f"{percent:.{decimals}f}"
    if text in {"0.0", "100.0"} and percent not in {0.0, 100.0}:
        return "less than 0.1" if percent < 50 else "more than 99.9"
    return text.removesuffix(".0")


def sure_fewer(difference: Estimate) -> tuple[str, str]:
    """Say a difference of two shares: ``3.2 fewer`` in 100 and ``(between 11 fewer and 4.1 more, 95 % sure)``."""
    if difference.value is None:
        return UNKNOWN, ""
    sure = _sure(difference, _more_or_fewer, "")
    return _more_or_fewer(difference.value), f" ({sure})" if sure else ""


def _more_or_fewer(share: float) -> str:
    return f"{in_hundred(abs(share))} {'fewer' if share < 0 else 'more'}"


def three_figures(value: float) -> str:
    """Say a large number to three figures: ``12 300``."""
    step = 10.0 ** max(len(str(int(abs(value)))) - 3, 0)
    return f"{step * round(value / step):,.0f}".replace(",", "\u202f")


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


def _sure(estimate: Estimate, words: Callable[[float], str], unit: str) -> str:
    """Say the interval; nothing where there is none."""
    low, high = estimate.low, estimate.high
    sure = f"{100 * estimate.level:g} % sure"
    if low is not None and high is not None:
        return f"between {words(low)} and {words(high)}{unit}, {sure}"
    if high is not None:
        return f"at most {words(high)}{unit}, {sure}"
    return f"at least {words(low)}{unit}, {sure}" if low is not None else ""


def _bounded(estimate: Estimate) -> str:
    if estimate.high is not None:
        return f"at most {size(estimate.high)}"
    return f"at least {size(estimate.low)}" if estimate.low is not None else UNKNOWN
