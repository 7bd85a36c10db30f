"""What a line must not end between: a number and its unit, and the words that belong to it."""

from __future__ import annotations

import re
from typing import Final

_UNITS: Final = r"%|mm\b|µm\b|in\b(?=[);,])|thou\b|(?:hour|month|minute)s?\b|[A-Z]{3}\b"
# "12 in 100", "95 % sure", "3 of 100", "p = 0.26", "p < 0.001"
_TOGETHER: Final = re.compile(
    rf"(?<=\d) (?=(?:{_UNITS}|(?:in|of) 100\b))|(?<=\b(?:in|of)) (?=100\b)|(?<=%) (?=sure\b)|(?<=\bp) [=<] (?=\d)"
)
_NO_BREAK: Final = "\u00a0"


def unbroken(text: str) -> str:
    """Give a text in which spaces inside such a pair are spaces at which no line is broken."""
    return _TOGETHER.sub(lambda found: found[0].replace(" ", _NO_BREAK), text)


def breakable(text: str) -> str:
    """Give such a text with plain spaces again."""
    return text.replace(_NO_BREAK, " ")
