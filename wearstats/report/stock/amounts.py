"""Sizes as they are engraved, and money."""

from __future__ import annotations

import math
from typing import Final

from wearstats.domain.units import print_um
from wearstats.report.words.phrases import three_figures

__all__ = ["about", "engraved", "number_word", "three_figures"]

_WORDS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


def engraved(um: float) -> str:
    """Say an undersize as it is engraved, in mm without the unit: ``0.035``."""
    return print_um(um).partition(" mm")[0]


def about(value: float) -> str:
    """Say an amount to two figures: ``420``, ``-44``, ``1 100``."""
    digits = math.floor(math.log10(abs(value))) - 1 if abs(value) >= 1 else 0
    return f"{round(value, -max(digits, 0)) + 0.0:,.0f}".replace(",", "\u202f").replace(
        "-0", "0", int(abs(value) < 0.5)
    )


def number_word(number: int) -> str:
    """Say a number in a word, up to twelve."""
    return _WORDS[number] if number < len(_WORDS) else str(number)
