"""What an intake did: the counts of every file, what was kept out, what there is to say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wearstats.store.names.near import LookAlike

MOST_PROBLEMS_TOLD = 50
"""How many kept-out rows a report tells one by one; all of them stand in the store."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What became of one file's rows of one table.

    Parameters
    ----------
    file : str
        File, and sheet where there are several.
    table : str
        Which table.
    read, accepted, duplicate, conflict, rejected : int
        Rows; ``read`` is the sum of the other four.
    problems : tuple of str
        Why rows were kept out, of the first `MOST_PROBLEMS_TOLD`.
    """

    file: str
    table: str
    read: int
    accepted: int
    duplicate: int
    conflict: int
    rejected: int
    problems: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Give the counts as the ``--json`` document has them."""
        names = ("file", "table", "read", "accepted", "duplicate", "conflict", "rejected")
        return {name: getattr(self, name) for name in names}


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeReport:
    """What an intake did.

    Parameters
    ----------
    intake : int
        Its number.
    bulk : bool
        Whether it was the first load of an empty store, whose events count by their own dates.
    files : tuple of FileReport
        One for each file and table.
    settled : int
        Rows kept out earlier that have now come in.
    notes : tuple of str
        What else there is to say.
    alike : tuple of LookAlike
        Names new with it that look like earlier ones.
    measured : tuple of str
        The shafts of whose measuring it brought word, where that was asked for: see `add_mail`.
    """

    intake: int
    bulk: bool
    files: tuple[FileReport, ...]
    settled: int = 0
    notes: tuple[str, ...] = ()
    alike: tuple[LookAlike, ...] = ()
    measured: tuple[str, ...] = ()

    @property
    def kept_out(self) -> int:
        """Rows that did not come in: rejected, or contradicting the store."""
        return sum(file.rejected + file.conflict for file in self.files)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "intake": self.intake,
            "bulk": self.bulk,
            "settled": self.settled,
            "files": self.files,
            "problems": [problem for file in self.files for problem in file.problems],
            "notes": self.notes,
            "alike": self.alike,
        }
