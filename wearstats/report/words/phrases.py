"""Numbers in plain words: two figures, one style of interval, and what cannot be told."""

from __future__ import annotations

import datetime
import string
from collections.abc import Callable, Mapping
from typing import Any, Final

from wearstats.analysis.estimate import Estimate, may_be_any_share
from wearstats.domain.units import print_um

UNKNOWN: Final = "cannot be told from these data"
LEVEL: Final = 0.95
"""How sure brackets are unless they say otherwise; said once, at the foot of an answer."""

_MINUS: Final = "\u2212"


def size(um: float) -> str:
    """Say a difference to a thousandth of a millimetre, to an owner who may measure in either: with inches behind."""
    return print_um(round(um), decimals=3)


def undersize(um: float, *, inches: bool = False) -> str:
    """Say an undersize exactly as it is made: ``0.10 mm``; to an owner who may measure in inches, these behind."""
    text = print_um(um)
    return text if inches else text.partition(" (")[0]


def millimetres(um: float) -> str:
    """Say a difference in millimetres only, without the unit: ``0.041``."""
    text = f"{um / 1000:.3f}"
    return "0.000" if text == "-0.000" else text


def two_figures(number: float) -> str:
    """Say a number to two figures, and no finer than a tenth: ``31``, ``3.1``, ``120``; never minus nothing."""
    # plus nothing: minus nothing becomes nothing
    rounded = float(f"{number:.2g}") + 0.0
    if 0.0 < abs(number) < 0.05:
        return "under 0.1" if number > 0 else f"above {_MINUS}0.1"
    text = f"{rounded:,.0f}" if abs(rounded) >= 10 else f"{rounded:.1f}".removesuffix(".0")
    return text.replace("-", _MINUS).replace(",", "\u202f")


def sure_number(estimate: Estimate) -> str:
    """Say an estimated number, without its unit: ``31 (28 to 35)``."""
    if estimate.value is None:
        return _bound(estimate, two_figures) or "not known"
    return f"{two_figures(estimate.value)}{bracket(estimate, two_figures)}"


def sure_microns(estimate: Estimate) -> str:
    """Say an estimated difference: ``31 µm (28 to 35)``."""
    if estimate.value is None:
        return UNKNOWN
    return f"{two_figures(estimate.value)} µm{bracket(estimate, two_figures)}"


def sure_share(estimate: Estimate, things: str) -> str:
    """Say an estimated share: ``12 in 100 hubs (8 to 17)``."""
    if estimate.value is None or may_be_any_share(estimate):
        return UNKNOWN
    return f"{in_hundred(estimate.value)} in 100 {things}".rstrip() + bracket(estimate, in_hundred)


def in_100(estimate: Estimate) -> str:
    """Say an estimated share for a table of so many in a hundred: ``12 (8 to 17)``."""
    if estimate.value is None or may_be_any_share(estimate):
        return "not known"
    return f"{in_hundred(estimate.value)}{bracket(estimate, in_hundred)}"


def bracket(estimate: Estimate, words: Callable[[float], str]) -> str:
    """Say an interval in brackets, a space before it: `` (28 to 35)``; nothing where it would only repeat a number."""
    low, high = (None if end is None else words(end) for end in (estimate.low, estimate.high))
    value = None if estimate.value is None else words(estimate.value)
    said = "" if low == high == value else _between(low, high)
    if estimate.status == "assumed":
        said = f"{said}, assumed" if said else "assumed"
    elif said and estimate.level != LEVEL:
        said = f"{said}, {100 * estimate.level:g} % sure"
    return f" ({said})" if said else ""


def _between(low: str | None, high: str | None) -> str:
    if low is not None and high is not None:
        return f"{low} to {high}" if low != high else f"about {low}"
    if high is not None:
        return f"at most {high}"
    return "" if low is None else f"at least {low}"


def _bound(estimate: Estimate, words: Callable[[float], str]) -> str:
    """Say the one end that is known, where a number is bounded only."""
    if estimate.status != "bounded":
        return ""
    ends = [None if end is None else words(end) for end in (estimate.low, estimate.high)]
    return _between(*ends)


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
    """Say a difference of two shares: ``3.2 fewer`` in 100, and `` (11 fewer to 4.1 more)``, a space before it."""
    if difference.value is None:
        return UNKNOWN, ""
    low, high = difference.low, difference.high
    if low is None or high is None or low < 0 < high:
        return more_or_fewer(difference.value), bracket(difference, more_or_fewer)
    # on one side of nothing the word is said already
    near, far = sorted((abs(low), abs(high)))
    apart = Estimate(value=abs(difference.value), low=near, high=far, level=difference.level, status=difference.status)
    word = "fewer" if high <= 0 and low < 0 else "more"
    return f"{in_hundred(abs(difference.value))} {word}", bracket(apart, in_hundred)


def more_or_fewer(share: float) -> str:
    """Say a difference of shares as so many in 100: ``3.2 fewer``."""
    return f"{in_hundred(abs(share))} {'fewer' if share < 0 else 'more'}" if share else "0"


def three_figures(value: float) -> str:
    """Say a large number to three figures: ``12 300``."""
    step = 10.0 ** max(len(str(int(abs(value)))) - 3, 0)
    return f"{step * round(value / step):,.0f}".replace(",", "\u202f")


def whole(number: float) -> str:
    """Round to a whole number; from a million on its figures stand in threes."""
    return f"{number:,.0f}".replace(",", "\u202f") if abs(number) >= 1e6 else f"{number:.0f}"


def count(number: int, noun: str, plural: str | None = None) -> str:
    """Say how many: ``1 shaft``, ``12 400 readings``."""
    many = plural if plural is not None else f"{noun}s"
    return f"{number:,} {noun if number == 1 else many}".replace(",", "\u202f")


class _Counting(string.Formatter):
    def format_field(self, value: Any, format_spec: str) -> Any:
        one, several, many = format_spec.partition("/")
        return count(value, one, many) if several else super().format_field(value, format_spec)


def filled(template: str, facts: Mapping[str, Any]) -> str:
    """Put facts where a template names them; ``{hubs:hub/hubs}`` is so many with the noun for one or for several."""
    return _Counting().vformat(template, (), facts)


def day(date: datetime.date) -> str:
    """Say a day so that nobody takes the day for the month: ``3 April 2026``."""
    return f"{date.day} {date:%B %Y}"


def months(number: float) -> str:
    """Say a time: ``12 months``."""
    return "1 month" if number == 1 else f"{number:g} months"


def within(number: float) -> str:
    """Say how often in what time: ``a year``, ``in 6 months``."""
    return "a year" if number == 12 else f"in {months(number)}"


def span(number: float) -> str:
    """Say a time by its usual name: ``a year``, ``6 months``."""
    return "a year" if number == 12 else months(number)


def joined(parts: list[str]) -> str:
    """Join with commas and a last ``and``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}" if parts else ""


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    stripped = text.strip()
    return stripped if not stripped else stripped[0].upper() + stripped[1:] + ("" if stripped[-1] in ".!?" else ".")
