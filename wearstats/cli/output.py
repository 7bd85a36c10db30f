"""How an answer leaves the program: sentences or one JSON document on stdout, everything else on stderr."""

from __future__ import annotations

import datetime
import json
import shutil
import sys
import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import typer

from wearstats.report.rendering.escape import OBEYED, shown

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable

DOCUMENT_VERSION = 1


def print_document(answer: str, result: Any, *, as_of: datetime.date) -> None:
    """Print an answer as one JSON document.

    Parameters
    ----------
    answer : str
        The question's noun: ``wear``.
    result : object
        What the study says, as `plain` takes it; numbers are printed unrounded, NaN and infinities as null.
    as_of : datetime.date
        The day up to which things were known.
    """
    from wearstats.report.remarks.document import plain

    head = plain({"answer": answer, "version": DOCUMENT_VERSION, "as_of": as_of})
    # what is asked about and as of when stands first, whatever the result says of it
    text = json.dumps(head | plain(result) | head, ensure_ascii=False, allow_nan=False, indent=2)
    # a terminal must not obey what a name holds; a reader of the document gets the name as it is
    typer.echo(OBEYED.sub(lambda sign: f"\\u{ord(sign[0]):04x}", text))


def print_sentences(sentences: Iterable[str]) -> None:
    """Print sentences, one paragraph each, wrapped where a person reads them on a terminal."""
    width = min(shutil.get_terminal_size().columns, 100) if sys.stdout.isatty() else 0
    for sentence in sentences:
        sentence = shown(sentence)
        typer.echo(textwrap.fill(sentence, width, break_long_words=False) if width >= 20 else sentence)


def print_table(table: DataTable) -> None:
    """Print a table in plain lines, and an empty line behind it."""
    from wearstats.report.rendering.tables import plain_lines

    typer.echo(shown("\n".join([*plain_lines(table), ""])))


def print_note(text: str) -> None:
    """Print a note or an error where it does not mix with the answer."""
    typer.echo(shown(text), err=True)


def print_progress(text: str) -> None:
    """Say what is being done, to a person who waits; a script is not told."""
    if sys.stderr.isatty():
        typer.echo(f"… {text}", err=True)
