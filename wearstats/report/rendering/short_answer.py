"""An answer in its first two depths: a verdict in one line, and a few lines or one small table under it."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Final

from wearstats.report.words.phrases import count

WIDTH: Final = 80
"""Columns of a terminal that an answer keeps to."""

SURE: Final = "Brackets: 95 % sure."


def sure_of(sampled_shafts: int | None) -> str:
    """Say how sure brackets are, and of how many shafts taken at random all is, where not of all."""
    return SURE if sampled_shafts is None else f"{SURE[:-1]}, from {count(sampled_shafts, 'shaft')} taken at random."


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallTable:
    """A table of a few rows that fits `WIDTH` columns.

    Parameters
    ----------
    head : tuple of str
        Headings, with units.
    rows : tuple of tuple of str
        Cells as text, as many as there are headings.
    chosen : int or None
        The row that is spoken of, marked in front.
    left : frozenset of int
        Columns set to the left; the others stand to the right. A last column that does not fit is broken.
    note : str
        How it is read, said under it and nowhere without it.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    chosen: int | None = None
    left: frozenset[int] = frozenset()
    note: str = ""

    def lines(self) -> list[str]:
        """Give the lines, none longer than `WIDTH`."""
        cells = [self.head, *self.rows]
        last = len(self.head) - 1
        wide = [max(len(row[at]) for row in cells) for at in range(len(self.head))]
        lines: list[str] = []
        for number, row in enumerate(cells):
            mark = ">" if self.chosen is not None and number - 1 == self.chosen else " "
            before = f"  {mark} " + "".join(
                (cell.ljust(size) if at in self.left else cell.rjust(size)) + "  "
                for at, (cell, size) in enumerate(zip(row[:last], wide[:last], strict=True))
            )
            if last not in self.left:
                lines.append(f"{before}{row[last].rjust(wide[last])}".rstrip())
                continue
            parts = textwrap.wrap(row[last], max(WIDTH - len(before), 10), break_long_words=False) or [""]
            lines += [
                f"{lead}{part}".rstrip()
                for lead, part in zip([before, *[" " * len(before)] * len(parts)], parts, strict=False)
            ]
        return lines + (_wrapped(capital(self.note), "    ", first="  ") if self.note else [])


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortAnswer:
    """What is said of a question unless all is asked for.

    Parameters
    ----------
    question : str
        As it is asked: ``Do off-the-shelf hubs fail more?``; ``{}`` stands for what it is asked about.
    about : str
        Its name, which stays as it is written.
    verdict : str
        At most fifteen words, without a full stop.
    body : tuple of str or SmallTable
        At most six lines, or a small table and a few lines.
    cautions : tuple of str
        What to beware of, where the answer is an advice.
    foot : str
        How sure the brackets are, and what else holds for all numbers; empty where there are none.
    more : str
        The command that says everything.
    urgent : bool
        Whether somebody is to stop or to be warned before anything else.
    """

    question: str
    about: str = ""
    verdict: str
    body: tuple[str | SmallTable, ...] = ()
    cautions: tuple[str, ...] = ()
    foot: str = SURE
    more: str = ""
    urgent: bool = False

    @property
    def headline(self) -> tuple[str, str]:
        """Question and verdict, as they stand in the first line."""
        return self.question.upper().format(self.about), f"{capital(self.verdict)}."

    def lines(self) -> list[str]:
        """Give the lines, none longer than `WIDTH` but for a name or a command that cannot be broken."""
        lines = _wrapped("  ".join(self.headline), indent="  ")
        for part in self.body:
            lines += part.lines() if isinstance(part, SmallTable) else _wrapped(capital(part), "    ", first="  ")
        for caution in self.cautions:
            lines += _wrapped(caution, "    ", first="  ")
        return lines + self._last()

    def _last(self) -> list[str]:
        more = f"More: {self.more}" if self.more else ""
        together = "   ".join(part for part in (self.foot, more) if part)
        if len(together) + 2 <= WIDTH:
            return [f"  {together}"] if together else []
        return [*_wrapped(self.foot, "  ", first="  "), "  " + textwrap.shorten(more, WIDTH - 2, placeholder=" …")]


def _wrapped(text: str, indent: str, *, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_long_words=False)


def capital(text: str) -> str:
    """Begin with a capital; a unit stays as it is."""
    return text if text.startswith("µ") else text[:1].upper() + text[1:]
