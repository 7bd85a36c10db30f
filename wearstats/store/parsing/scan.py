"""What a file is before it is read: its bytes hashed, its encoding found, rubbish recognised."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from wearstats.errors import InputError, Problem
from wearstats.store.parsing.limits import refuse_long_line

_CHUNK = 1 << 24
_ALLOWED_FILES = "a .csv, .txt or .tsv text, an .xlsx workbook or a .parquet file"
_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\r\f\v\x1b")
_MAGIC = {
    b"PK\x03\x04": "a zip or workbook",
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1": "an old kind of workbook (.xls)",
    b"PAR1": "a Parquet file",
    b"%PDF": "a PDF",
    b"\x1f\x8b": "a gzip file",
}
HALVES = re.compile("[\ud800-\udfff]")
"""What Python leaves in a text where bytes that are none were read, and what no file can hold."""
FAST_FROM_BYTES = 1 << 18
"""Size from which a plain CSV file goes through DuckDB's own reader."""

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannedText:
    """A text file as its bytes show it.

    Parameters
    ----------
    sha256 : str
        Hash of its bytes.
    size : int
        Bytes.
    encoding : str
        ``utf-8-sig``, ``utf-16`` or ``cp1252``.
    lines : int
        Lines, as an editor counts them where they end as they mostly do.
    plain : bool
        UTF-8, without empty lines or lone carriage returns, so that any CSV reader numbers its rows alike.
    """

    sha256: str
    size: int
    encoding: str
    lines: int
    plain: bool


def checked_path(path: Path) -> None:
    """Refuse what is not there, not a file or empty; raises `InputError`."""
    if path.is_dir():
        raise InputError(
            Problem(place=str(path), found="is a directory", allowed="files", next_step=f"name the files: {path}/*.csv")
        )
    if not path.exists():
        raise InputError(
            Problem(place=str(path), found="there is no such file", allowed=_ALLOWED_FILES, next_step="check the name")
        )
    if path.stat().st_size == 0:
        raise InputError(empty_file(path.name))


def read_by_database(path: Path) -> bool:
    """Whether DuckDB itself may open a file, so that statements must be allowed to: Parquet, and large texts."""
    if path.suffix.lower() == ".xlsx" or not path.is_file():
        return False
    return path.suffix.lower() == ".parquet" or path.stat().st_size >= FAST_FROM_BYTES


def empty_file(name: str) -> Problem:
    """Say that a file holds nothing."""
    return Problem(
        place=name,
        found="the file is empty",
        allowed="a line of column names and rows below it",
        next_step="save it again from where it was made",
    )


def file_sha256(path: Path) -> str:
    """Hash a file's bytes."""
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def scan_text(path: Path) -> ScannedText:
    """Read a text file's bytes once; raises `InputError` for what is no text."""
    digest = hashlib.sha256()
    utf8: codecs.IncrementalDecoder | None = codecs.getincrementaldecoder("utf-8")()
    plain, size, lines, tail, utf16 = True, 0, 0, b"", False
    with path.open("rb") as opened:
        while chunk := opened.read(_CHUNK):
            if size == 0:
                utf16 = chunk.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
                _refuse_other_kinds(path.name, chunk)
                refuse_long_line(chunk.split(b"\n", 1), place=path.name)
            if not utf16 and len(chunk.translate(None, _CONTROLS)) != len(chunk):
                raise InputError(no_text(path.name))
            digest.update(chunk)
            size += len(chunk)
            lines += chunk.count(b"\n")
            if utf8 is not None and not chunk.isascii():
                try:
                    utf8.decode(chunk)
                except UnicodeDecodeError:
                    utf8 = None
            joined = tail + chunk
            plain = plain and not (b"\n\n" in joined or b"\n\r" in joined or b"\r\r" in joined)
            tail = chunk[-2:]
    lines += not tail.endswith(b"\n")
    encoding = "utf-16" if utf16 else "utf-8-sig" if utf8 is not None else "cp1252"
    plain = plain and utf8 is not None and not utf16
    return ScannedText(sha256=digest.hexdigest(), size=size, encoding=encoding, lines=lines, plain=plain)


def read_text(path: Path, scanned: ScannedText) -> str:
    """Decode a scanned file; raises `InputError` where its bytes are no text after all."""
    try:
        return path.read_bytes().decode(scanned.encoding)
    except UnicodeDecodeError:
        raise InputError(no_text(path.name)) from None


def as_pasted(stream: TextIO) -> str:
    """Read all of a stream; raises `InputError` where its bytes are no text."""
    try:
        return stream.read()
    except UnicodeDecodeError:
        raise InputError(no_text("pasted text")) from None


def split_line(line: str, delimiter: str) -> list[str]:
    """Split one line of a CSV file."""
    return next(csv.reader(io.StringIO(line, newline=""), delimiter=delimiter), [])


def _refuse_other_kinds(name: str, chunk: bytes) -> None:
    for magic, kind in _MAGIC.items():
        if chunk.startswith(magic):
            raise InputError(
                Problem(
                    place=name,
                    found=f"is {kind}, not a text",
                    allowed=_ALLOWED_FILES,
                    next_step="open it in a spreadsheet program and save it as .xlsx or CSV"
                    if ".xls)" in kind
                    else "give it its own ending, or save it as CSV",
                )
            )


def no_text(name: str) -> Problem:
    """Say that bytes stand for no text."""
    return Problem(
        place=name,
        found="holds bytes that are no text",
        allowed="text in UTF-8 or Windows-1252",
        next_step="save it again as CSV, UTF-8",
    )
