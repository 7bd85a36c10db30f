"""How the answer to each question is said: in short, and in full; nothing here draws."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from wearstats.report.rendering.short_answer import ShortAnswer
    from wearstats.report.wordings.wording import Wording

_WITH: Final = {"shafts": "shaft", "batch": "calls", "returns": "review"}
"""Answers whose words stand in another question's file."""


def wording(question: str) -> Wording:
    """Give the words of a question, read only now: those of all take a quarter of a second.

    Parameters
    ----------
    question : str
        The question's noun.
    """
    of_file = import_module(f"wearstats.report.wordings.{_WITH.get(question, question)}")
    words: Wording = of_file.WORDINGS[question]
    return words


def short_answers(question: str, result: Any) -> tuple[ShortAnswer, ...]:
    """Say an answer in short: one, or one a pattern.

    Parameters
    ----------
    question : str
        The question's noun.
    result : Any
        What its study gave.
    """
    return tuple(wording(question).short(result))


def full_sentences(question: str, result: Any) -> list[str]:
    """Say everything in words: question and verdict, then each sentence that does not repeat the verdict.

    Parameters
    ----------
    question : str
        The question's noun.
    result : Any
        What its study gave.
    """
    heads = [short.headline for short in short_answers(question, result)]
    verdicts = {verdict for _, verdict in heads}
    told = [sentence for sentence in wording(question).sentences(result) if sentence not in verdicts]
    # of one shaft or size list alone the first sentence is the verdict, with its subject
    if len(told) and any(verdict.rstrip(".").lower() in told[0].lower() for verdict in verdicts):
        return told
    return [*("  ".join(head) for head in heads), *told]
