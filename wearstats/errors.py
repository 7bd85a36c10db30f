"""Every error the program raises on purpose: one base class, facts in the class, words built once.

A message reads *place: what was found; what is allowed; what to do next*.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial


class WearstatsError(Exception):
    """Base of all errors that are meant for the user."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with an input.

    Parameters
    ----------
    place : str
        File, row and column, or option, in the user's words: ``readings.csv, row 14, width``.
    found : str
        What stood there, as typed.
    allowed : str
        What would have been accepted.
    next_step : str
        What the user can do about it.
    example : str
        One right value or line, where the next step does not itself say what to write.
    """

    place: str
    found: str
    allowed: str = ""
    next_step: str = ""
    example: str = ""

    def __str__(self) -> str:
        """Give the one-line message."""
        example = f"for example: {self.example}" if self.example else ""
        rest = [part for part in (self.allowed, self.next_step, example) if part]
        return f"{self.place}: {'; '.join([self.found, *rest])}"


class InputError(WearstatsError):
    """Input that cannot be accepted; carries every problem found, not only the first.

    Parameters
    ----------
    problems : Problem or sequence of Problem
        What is wrong, in the order found.
    """

    def __init__(self, problems: Problem | list[Problem] | tuple[Problem, ...]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        """Let it pass from one process to another."""
        return InputError, (self.problems,)


class UsageError(WearstatsError):
    """An option or argument that makes no sense for the command given."""


class StoreError(WearstatsError):
    """The store is missing, locked, of another version, damaged, or not a store."""


class ReportError(WearstatsError):
    """A page, chart or sheet could not be written."""


class AnalysisError(WearstatsError):
    """The data cannot answer the question; says what would.

    Parameters
    ----------
    why : str
        What is missing or wrong, with numbers.
    needed : str
        What data would allow an answer.
    """

    def __init__(self, why: str, *, needed: str) -> None:
        self.why = why
        self.needed = needed
        super().__init__(f"{why}; {needed}")

    def __reduce__(self) -> tuple[Callable[..., AnalysisError], tuple[str]]:
        """Let it pass from one process to another."""
        return partial(AnalysisError, needed=self.needed), (self.why,)


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """Say how many in an error or a note: ``1 row``, ``12 rows``."""
    return f"{number} {noun if number == 1 else plural or f'{noun}s'}"
