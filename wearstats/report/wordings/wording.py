"""What the words of an answer are made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearstats.report.rendering.short_answer import ShortAnswer

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """How the answers to a question are said.

    Parameters
    ----------
    heading : str
        The question in words.
    short : callable
        Of a result: what is said unless all is asked for; several where it is about several patterns.
    sentences : callable
        Of a result: everything, in words.
    tables : callable
        Of a result: the tables that go with these.
    cautions : tuple of str
        What to beware of, where the answer is an advice.
    """

    heading: str
    short: Callable[[Any], Iterable[ShortAnswer]]
    sentences: Callable[[Any], Iterable[str]]
    tables: Callable[[Any], Iterable[DataTable]] = lambda _: ()
    cautions: tuple[str, ...] = ()


def alone(short: Callable[[Any], ShortAnswer]) -> Callable[[Any], tuple[ShortAnswer]]:
    """Make one short answer a tuple of it."""
    return lambda result: (short(result),)
