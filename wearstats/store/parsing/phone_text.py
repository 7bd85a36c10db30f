"""What a telephone does to a pasted sheet, undone: unseen signs, typographic quotes, reply marks.

Only pasted text is treated so. A file is taken to the letter, for what a store exports must come back as it was.
"""

from __future__ import annotations

import re
from typing import Final

_UNSEEN: Final = re.compile("[\u200b\u2060\ufeff\u00ad\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Zero-width space, word joiner, byte-order mark, soft hyphen, marks of the writing direction: none is ever meant in a
name or a number."""
_SPACES: Final = re.compile("(?<![0-9])[\u00a0\u2007\u2009\u200a\u202f]|[\u00a0\u2007\u2009\u200a\u202f](?![0-9])")
"""No-break, figure, thin, hair and narrow spaces; between digits they may set thousands apart and stay."""
_REPLY: Final = re.compile(r"^(?:[ \t]*>)+[ \t]?", re.MULTILINE)
_SAID: Final = "^[A-Za-z][A-Za-z_0-9 ]*:"
_QUOTES: Final = (
    (f"{_SAID}|^|[;,\t]", "\u201c\u201d\u201e\u00ab\u00bb", "\u201c\u201d\u00ab\u00bb"),
    (f"{_SAID}|^|[;,\t]", "\u2018\u201a", "\u2018\u2019"),
    (_SAID, '"', '"'),
)
"""Before them, opening and closing marks; straight ones round a cell are the reader's own business."""
_WHOLE: Final = tuple(
    re.compile(
        rf"(?P<before>{before})(?P<blank>[ \t]*)[{opening}](?P<inside>[^;,\t\r\n{opening}{closing}]*)[{closing}]"
        r"(?=[ \t\r]*(?:[;,\t]|$))",
        re.MULTILINE,
    )
    for before, opening, closing in _QUOTES
)
"""Quotes round all of a cell, or of what stands behind ``column:``, with neither quotes nor delimiters inside."""


def plain_text(text: str) -> str:
    """Give a pasted text as it was meant.

    Parameters
    ----------
    text : str
        As pasted.

    Returns
    -------
    str
        As many lines; without unseen signs and reply marks (``>``), with plain spaces, and without quotes round whole
        cells. What stands between is as it was: apostrophes and quotes inside names too.
    """
    plain = _REPLY.sub("", _SPACES.sub(" ", _UNSEEN.sub("", text)))
    for quotes in _WHOLE:
        plain = quotes.sub(r"\g<before>\g<blank>\g<inside>", plain)
    return plain
