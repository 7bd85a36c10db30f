"""Exit codes, and which error leads to which: the only place that says so."""

from __future__ import annotations

from typing import Final

from wearstats.errors import AnalysisError, InputError, ReportError, StoreError, UsageError, WearstatsError

OK: Final = 0
FAULT: Final = 1
USAGE: Final = 2
INPUT: Final = 3
STORE: Final = 4
ANALYSIS: Final = 5
FINDINGS: Final = 6

_BY_CLASS: tuple[tuple[type[WearstatsError], int], ...] = (
    (UsageError, USAGE),
    (InputError, INPUT),
    (StoreError, STORE),
    (ReportError, STORE),
    (AnalysisError, ANALYSIS),
    # what is left is a file that should have come with the program
    (WearstatsError, STORE),
)


def exit_code(error: WearstatsError) -> int:
    """Give the exit code of an error that is meant for the user."""
    return next(code for kind, code in _BY_CLASS if isinstance(error, kind))
