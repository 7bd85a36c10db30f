"""How large a file may become when it is opened: asked before anything is unpacked.

A workbook or a Parquet file of a few kilobytes can stand for more than any memory holds. What a shop writes is far
below these limits, and what is above them goes in as CSV, which is as large as it looks.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path

from wearstats.errors import InputError, Problem, counted

MOST_COLUMNS = 1000
"""Columns of a file or sheet; the largest table has 16."""

MOST_UNPACKED_BYTES = 1 << 30
"""What a workbook may unpack to, all its parts together; a full sheet of a million readings is about 150 MB."""

MOST_PARTS = 5000
"""Parts of a workbook."""

MOST_CELLS = 40_000_000
"""Cells of a sheet, from its first row to its last and its first column to its last."""

MOST_RATIO = 400
"""How many times smaller a part over a megabyte may lie in the workbook than it is; sheets of data have 5 to 30."""

MOST_FOOTER_BYTES = 1 << 24
"""Size of what a Parquet file says of itself, which is read before its rows."""

MOST_ROWS_A_BYTE = 50
"""Rows that a Parquet file of over `FEW_ROWS` rows may have for each of its bytes."""

FEW_ROWS = 2_000_000
LONGEST_FIRST_LINE = 1 << 20


def refuse_many_columns(columns: int, *, place: str) -> None:
    """Raise `InputError` where there are more columns than any table could have."""
    if columns > MOST_COLUMNS:
        raise InputError(_too_large(place, f"has {columns} columns", f"at most {MOST_COLUMNS} columns"))


def refuse_bomb(path: Path) -> None:
    """Raise `InputError` where a workbook would unpack to more than memory should hold; reads only its directory."""
    with zipfile.ZipFile(path) as packed:
        parts = packed.infolist()
    whole = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS:
        raise InputError(_too_large(path.name, f"has {len(parts)} parts", f"at most {MOST_PARTS} parts"))
    dense = any(part.file_size > (1 << 20) and part.file_size > MOST_RATIO * part.compress_size for part in parts)
    if whole > MOST_UNPACKED_BYTES or dense:
        found = f"unpacks from {path.stat().st_size} to {whole} bytes"
        allowed = f"at most {MOST_UNPACKED_BYTES} bytes, and no part {MOST_RATIO} times as large as it lies in the file"
        raise InputError(_too_large(path.name, found, allowed))


def refuse_many_cells(rows: int, columns: int, *, place: str) -> None:
    """Raise `InputError` where a sheet spans more cells than can be held."""
    refuse_many_columns(columns, place=place)
    if rows * columns > MOST_CELLS:
        raise InputError(
            _too_large(
                place,
                f"spans {counted(rows, 'row')} and {counted(columns, 'column')}",
                f"at most {MOST_CELLS} cells in a sheet",
            )
        )


def refuse_long_footer(path: Path) -> None:
    """Raise `InputError` where what a Parquet file says of itself is too long to read, as with a million columns."""
    with path.open("rb") as opened:
        opened.seek(max(path.stat().st_size - 8, 0))
        end = opened.read(8)
    footer = int.from_bytes(end[:4], "little") if end[4:] == b"PAR1" else 0
    if footer > MOST_FOOTER_BYTES:
        found = f"its description of columns is {footer} bytes long"
        raise InputError(_too_large(path.name, found, f"at most {MOST_FOOTER_BYTES} bytes"))


def refuse_many_rows(path: Path, rows: int) -> None:
    """Raise `InputError` where a Parquet file stands for far more rows than its size can hold readings."""
    most = max(FEW_ROWS, MOST_ROWS_A_BYTE * path.stat().st_size)
    if rows > most:
        raise InputError(_too_large(path.name, f"stands for {rows} rows", f"at most {most} rows in a file of its size"))


def refuse_long_line(lines: Sequence[bytes], *, place: str) -> None:
    """Raise `InputError` where the first line of a text is longer than any line of column names."""
    if lines and len(lines[0]) > LONGEST_FIRST_LINE:
        found = f"its first line is over {LONGEST_FIRST_LINE} bytes long"
        raise InputError(_too_large(place, found, f"a line of at most {MOST_COLUMNS} column names"))


def _too_large(place: str, found: str, allowed: str) -> Problem:
    return Problem(
        place=place,
        found=f"{found}; it was not opened",
        allowed=allowed,
        next_step="save what is wanted from it as CSV, one table a file, in parts if need be",
    )
