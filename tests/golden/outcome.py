"""What came of a comparison: counted by store and question, and told."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.golden.compare import compare_answers, ignored
from tests.golden.questions import Asked

_SHOWN = 40


@dataclass(slots=True, kw_only=True)
class Tally:
    """The documents of one question of one store.

    Parameters
    ----------
    compared, equal, differing, left_out : int
        How many; left out are those that differ only in what was to be ignored.
    old_s, new_s : float
        Processor time that answering took, in seconds.
    """

    compared: int = 0
    equal: int = 0
    differing: int = 0
    left_out: int = 0
    old_s: float = 0.0
    new_s: float = 0.0


@dataclass(slots=True, kw_only=True)
class Outcome:
    """The comparison so far.

    Parameters
    ----------
    rtol : float
        How far numbers may differ.
    ignore : list of re.Pattern
        Differences to leave out, by the line that tells them.
    tallies : dict
        By store and question.
    differences, left_out : list of str
        The lines.
    """

    rtol: float
    ignore: list[re.Pattern[str]]
    tallies: dict[tuple[str, str], Tally] = field(default_factory=dict)
    differences: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def take(self, store: str, asked: list[Asked], old: dict[str, Any], new: dict[str, Any]) -> None:
        """Compare the answers of one store."""
        for each in asked:
            tally = self.tallies.setdefault((store, each.question), Tally())
            answers = old[each.name], new[each.name]
            lines = [f"{store}/{each.name}: {found}" for found in compare_answers(*answers, rtol=self.rtol)]
            left_out = [line for line in lines if ignored(line, self.ignore)]
            found = [line for line in lines if not ignored(line, self.ignore)]
            tally.compared += 1
            tally.equal += not lines
            tally.differing += bool(found)
            tally.left_out += bool(left_out and not found)
            tally.old_s += answers[0]["processor_s"]
            tally.new_s += answers[1]["processor_s"]
            self.differences += found
            self.left_out += left_out

    def told(self) -> Iterator[str]:
        """Give the table, and the first differences."""
        counts = f"{'compared':>9} {'equal':>6} {'differing':>10} {'ignored':>8}"
        yield f"{'store':<12} {'question':<12} {counts} {'old s':>7} {'new s':>7}"
        for (store, question), tally in self.tallies.items():
            yield _row(store, question, tally)
        every = self.tallies.values()
        yield _row("all", "", Tally(**{name: sum(getattr(each, name) for each in every) for name in Tally.__slots__}))
        yield ""
        yield f"{len(self.differences)} differences, {len(self.left_out)} more ignored as named"
        yield from self.differences[:_SHOWN]
        if len(self.differences) > _SHOWN:
            yield f"and {len(self.differences) - _SHOWN} more"

    def write(self, path: Path) -> None:
        """Write every difference to a file, the ignored ones marked."""
        lines = [*self.differences, *(f"ignored: {line}" for line in self.left_out)]
        path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")


def _row(store: str, question: str, tally: Tally) -> str:
    counts = f"{tally.compared:>9} {tally.equal:>6} {tally.differing:>10} {tally.left_out:>8}"
    return f"{store:<12} {question:<12} {counts} {tally.old_s:>7.0f} {tally.new_s:>7.0f}"
