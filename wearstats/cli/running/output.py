"""How an answer leaves the program: sentences or one JSON document on stdout, everything else on stderr."""

from __future__ import annotations

import datetime
import json
import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import typer

from wearstats.errors import AnalysisError, WearstatsError
from wearstats.report.rendering.escape import OBEYED, shown

if TYPE_CHECKING:
    from wearstats.cli.running.options import Options
    from wearstats.report.rendering.short_answer import ShortAnswer
    from wearstats.report.rendering.tables import DataTable

DOCUMENT_VERSION = 1

_records: list[list[tuple[str, bool]]] = []
"""Where what is said is written down, the innermost last."""


@contextmanager
def recording() -> Iterator[list[tuple[str, bool]]]:
    """Write down what is said meanwhile: each text, and whether it was a note."""
    said: list[tuple[str, bool]] = []
    _records.append(said)
    try:
        yield said
    finally:
        _records.remove(said)


def replay(said: Iterable[tuple[str, bool]]) -> None:
    """Say again what was written down."""
    for text, is_note in said:
        _say(text, is_note=is_note)


def shown_how() -> dict[str, Any]:
    """Tell how answers are shown here: their width, and whether in colours."""
    return {"width": _width(), "in_colour": in_colour()}


def _say(text: str, *, is_note: bool = False) -> None:
    typer.echo(text, err=is_note)
    if _records:
        _records[-1].append((text, is_note))


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

    Under ``notes`` stands what was noted before, such as a pattern that is left out, where anything was.
    """
    from wearstats.report.remarks.document import plain

    head = plain({"answer": answer, "version": DOCUMENT_VERSION, "as_of": as_of})
    notes = [text for text, is_note in (_records[-1] if _records else ()) if is_note]
    told = {"notes": notes} if notes else {}
    # what is asked about and as of when stands first, whatever the result says of it
    text = json.dumps(head | told | plain(result) | head, ensure_ascii=False, allow_nan=False, indent=2)
    # a terminal must not obey what a name holds; a reader of the document gets the name as it is
    _say(OBEYED.sub(lambda sign: f"\\u{ord(sign[0]):04x}", text))


def print_answer(question: str, result: Any, options: Options) -> None:
    """Print the answer to a question as it is wanted: in short, in full, or as one JSON document."""
    if options.as_json:
        print_document(question, result, as_of=options.as_of)
    else:
        print_told(question, [result], full=options.full)


def print_told(question: str, results: Iterable[Any], *, full: bool) -> None:
    """Print answers to one question in words, in short or in full."""
    from wearstats.report.answers import full_sentences, short_answers, wording
    from wearstats.report.words.cautions import caution_sentences

    words = wording(question)
    if not full:
        print_short(short for result in results for short in short_answers(question, result))
        return
    for result in results:
        print_sentences([*full_sentences(question, result), ""])
        for table in words.tables(result):
            print_table(table)
    if words.cautions:
        print_sentences(caution_sentences())


def print_short(answers: Iterable[ShortAnswer]) -> None:
    """Print short answers, an empty line between them; the verdict stands out where a person reads it."""
    for number, answer in enumerate(answers):
        if number:
            _say("")
        text = shown("\n".join(answer.lines()))
        _say(_standing_out(text, answer) if in_colour() else text)


def in_colour() -> bool:
    """Whether a person reads it on a terminal that has colours, and did not ask for none."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _standing_out(text: str, answer: ShortAnswer) -> str:
    """Set the verdict in bold, and in red where somebody is to stop; it may be broken over lines."""
    question, verdict = (shown(part) for part in answer.headline)
    begins = len(question) + 2
    ends = next((at for at in range(begins, len(text) + 1) if _letters(text[begins:at]) == _letters(verdict)), begins)
    styled = typer.style(text[begins:ends], bold=True, fg="red" if answer.urgent else None)
    return text[:begins] + styled + text[ends:]


def _letters(text: str) -> str:
    return "".join(text.split())


def _width() -> int:
    """Say how wide a terminal is that a person reads; 0 where it is none."""
    return min(shutil.get_terminal_size().columns, 100) if sys.stdout.isatty() else 0


def print_sentences(sentences: Iterable[str]) -> None:
    """Print sentences, one paragraph each, wrapped where a person reads them on a terminal."""
    width = _width()
    for sentence in sentences:
        sentence = shown(sentence)
        _say(textwrap.fill(sentence, width, break_long_words=False) if width >= 20 else sentence)


def print_table(table: DataTable) -> None:
    """Print a table in plain lines, and an empty line behind it."""
    from wearstats.report.rendering.tables import plain_lines

    _say(shown("\n".join([*plain_lines(table), ""])))


def in_lines(error: WearstatsError) -> str:
    """Say what is wrong; what data would allow an answer on a line of its own."""
    return f"{error.why}\n  What would tell: {error.needed}" if isinstance(error, AnalysisError) else str(error)


def print_note(text: str, *, passing: bool = False) -> None:
    """Print a note or an error where it does not mix with the answer; a passing one does not belong to it."""
    if passing:
        typer.echo(shown(text), err=True)
    else:
        _say(shown(text), is_note=True)
