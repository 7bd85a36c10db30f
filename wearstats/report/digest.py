"""All answers on one screen: each question with its verdict, and the few tables that decide something."""

from __future__ import annotations

import dataclasses
from typing import Final

from wearstats.report.answers import short_answers, wording
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.studies.overview import Picture

INVENTED: Final = "Invented demo data: no such engine, shaft, owner or workshop exists."

_ASKED: Final = ("review", "shaft", "methods", "loosening", "stock", "wear", "gauging", "returns")
_WITH_TABLE: Final = {"shaft", "methods", "loosening"}
"""Questions whose table decides something at once."""

_LINES: Final = {"review": 2}
"""How many lines under the verdict cannot wait."""


def digest_lines(picture: Picture, *, asked: str) -> list[str]:
    """Give the lines for a terminal, at most sixty for the demo.

    Parameters
    ----------
    picture : Picture
        The answers.
    asked : str
        Options that ask the same store on the same day, as they are typed.
    """
    lines = [INVENTED, ""] if picture.invented else []
    for question in _ASKED:
        result = getattr(picture, question)
        short = () if result is None else short_answers(question, result)
        for answer in short or _untold(picture, question):
            tables = tuple(part for part in answer.body if isinstance(part, SmallTable))
            kept = tables[:1] if question in _WITH_TABLE else ()
            first = tuple(part for part in answer.body if isinstance(part, str))[: _LINES.get(question, 0)]
            lines += dataclasses.replace(answer, body=(*first, *kept), cautions=(), foot="", more="").lines()
    lines += ["", *(f"  {caution}" for caution in SHORT_CAUTIONS)]
    return [
        *lines,
        "",
        "Brackets: 95 % sure. Each question by itself and in full, for instance:",
        f"  wearstats stock --full {asked}",
    ]


def _untold(picture: Picture, question: str) -> list[ShortAnswer]:
    why = say(picture.unanswered.get(question, "no shaft has been measured yet"))
    return [ShortAnswer(question=wording(question).heading, verdict=f"cannot be told: {why}", foot="")]
