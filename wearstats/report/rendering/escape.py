"""Signs in names that a page, a picture or a terminal would obey instead of showing.

Control signs ring bells and repaint terminals, some end a text early, and signs that turn the writing direction let a
number behind a name be read backwards. All are shown as the sign for what cannot be shown (U+FFFD). Marks that only say
how their own place is written (U+200E, U+200F) and joiners of signs stay: words and pictures need them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

from wearstats.report.rendering.no_break import unbroken

OBEYED: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"  # controls of ISO 6429, but for tab and line ends
    "\u2028\u2029"  # ends of lines and paragraphs, which end a text in the drawing library's formulas
    "\u202a-\u202e\u2066-\u2069"  # embeddings, overrides and isolates of Unicode's bidirectional algorithm
    "\ud800-\udfff\ufffe\uffff]"  # no characters at all
)
_SHOWN: Final = "\ufffd"


def shown(text: str) -> str:
    """Give a text as it can be shown, each sign that would be obeyed replaced by U+FFFD."""
    return OBEYED.sub(_SHOWN, text)


def all_shown(content: Any) -> Any:
    """Give dictionaries, lists and texts inside one another with all their texts as they can be shown."""
    return each_text(content, shown)


def each_text(content: Any, change: Callable[[str], str]) -> Any:
    """Give dictionaries, lists and texts inside one another with all their texts changed, the keys as they are."""
    if isinstance(content, str):
        return change(content)
    if isinstance(content, dict):
        return {key: each_text(value, change) for key, value in content.items()}
    return [each_text(item, change) for item in content] if isinstance(content, list) else content


def finished(value: Any) -> Any:
    """Give what a template prints: texts as they can be shown and broken, markup that the program made as it is."""
    return value if hasattr(value, "__html__") or not isinstance(value, str) else unbroken(shown(value))
