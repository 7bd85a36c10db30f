"""What a store holds, in words: its tables, its intakes, its names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.errors import counted

if TYPE_CHECKING:
    from wearstats.store.archive.contents import Contents, IntakeLine, NamesHeld

_KINDS = {
    "undo": "takes back intake {0.undoes}",
    "retract": "takes rows out",
    "rename": "{0.named}",
    "merge": "{0.named}",
}

_MOST_FILES = 4


def contents_sentences(contents: Contents | NamesHeld) -> list[str]:
    """Say what a store holds, a line each."""
    from wearstats.store.archive.contents import NamesHeld

    if isinstance(contents, NamesHeld):
        return _names(contents)
    tables = [f"{name}: {counted(rows, 'row')}" for name, rows in contents.tables.items() if rows]
    head = f"{contents.path}: store of version {contents.version}, {contents.bytes / 1e6:.1f} MB"
    still = "is" if contents.rejects_open == 1 else "are"
    kept_out = f"{counted(contents.rejects_open, 'row')} kept out {still} still to be mended"
    return [head, *(tables or ["no rows"]), *(_intake(line) for line in contents.intakes), kept_out]


def _intake(line: IntakeLine) -> str:
    head = f"intake {line.intake}, {line.added_on}: "
    if line.kind != "add":
        return head + _KINDS[line.kind].format(line) + _because(line)
    return (
        f"{head}{_files(line.files)}: {line.accepted} of {counted(line.read, 'row')} accepted"
        + (" (first load: what happened counts as known from its own date on)" if line.bulk else "")
        + (f"; what became of hubs is complete up to {line.complete_to}" if line.complete_to else "")
        + _because(line)
    )


def _files(files: tuple[str, ...]) -> str:
    """Name the first few files."""
    named = ", ".join(files[:_MOST_FILES]) or "no file"
    return named if len(files) <= _MOST_FILES else f"{named} and {len(files) - _MOST_FILES} more"


def _because(line: IntakeLine) -> str:
    why = f" ({line.because})" if line.because else ""
    return why + (f"; taken back by intake {line.undone_by}" if line.undone_by else "")


def _names(names: NamesHeld) -> list[str]:
    alike = [
        f"{pair.name} looks like {pair.like} ({pair.kind}); if it is the same: {pair.same}" for pair in names.alike
    ]
    stand = [
        f"{name} stands for {other} since intake {intake} ({kind})" for kind, name, other, intake in names.standing
    ]
    return [*(alike or ["No names look alike."]), *(stand or ["No name stands for another."])]
