"""Tables as they are printed: on a page, and as plain text on a terminal."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import pandas as pd

_FIGURE: Final = r"[<>≈~+\-\u2212]?\s?\d"
_NUMBER: Final = r"[+\-\u2212]?\d+(?:\u202f\d{3})*(?:\.\d+)?"


@dataclass(frozen=True, slots=True, kw_only=True)
class DataTable:
    """A table as it is printed.

    Parameters
    ----------
    caption : str
        What the rows are.
    head : tuple of str
        Column headings, with units.
    rows : tuple of tuple of str
        Cells as text, one tuple a row, as long as `head`; the first cell is the row's heading.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def worded(self) -> frozenset[int]:
        """The columns that hold words or nothing, no number and no day; they are set to the left."""
        return frozenset(at for at in range(len(self.head)) if not any(re.match(_FIGURE, row[at]) for row in self.rows))


def table_of(frame: pd.DataFrame, *, caption: str, columns: Mapping[str, str]) -> DataTable:
    """Turn columns of a frame into a printed table.

    Parameters
    ----------
    frame : pandas.DataFrame
        One row a row; cells already as text, or numbers that may be printed as they are.
    caption : str
        What the rows are.
    columns : mapping of str to str
        Column of the frame to heading, in order.
    """
    texts = frame[list(columns)].astype(str)
    rows = tuple(tuple(str(cell) for cell in row) for row in texts.itertuples(index=False, name=None))
    return DataTable(caption=caption, head=tuple(columns.values()), rows=rows)


def plain_lines(table: DataTable, *, width: int = 14) -> list[str]:
    """Set a table in lines of text: the first column to the left, the others to the right.

    Parameters
    ----------
    table : DataTable
        The table.
    width : int
        Headings are broken into lines of about that many letters.

    Returns
    -------
    list of str
        The caption, the headings, the rows.
    """
    heads = [_broken(head, width) for head in table.head]
    height = max(len(head) for head in heads)
    # headings stand on the line above the rows, however few words they have
    above = list(zip(*[[""] * (height - len(head)) + head for head in heads], strict=True))
    wide = [max(len(cell) for cell in column) for column in zip(*above, *table.rows, strict=True)]
    lines = [
        "  ".join(cell.ljust(size) if at == 0 else cell.rjust(size) for at, (cell, size) in enumerate(row))
        for row in (list(zip(cells, wide, strict=True)) for cells in [*above, *table.rows])
    ]
    return [table.caption, *(line.rstrip() for line in lines)]


def _broken(text: str, width: int) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        lines[-1:] = [longer] if len(longer) <= width or not lines[-1] else [lines[-1], word]
    return lines


def table_rows(table: DataTable) -> pd.DataFrame:
    """Give a printed table as text, a column a heading; numbers as a spreadsheet reads them."""
    rows = [[_plain_number(cell) for cell in row] for row in table.rows]
    return pd.DataFrame(rows, columns=list(table.head), dtype=str)


def _plain_number(cell: str) -> str:
    """Give a printed number with the signs of a keyboard, a range without plus signs, and words as they are."""
    if re.fullmatch(_NUMBER, cell):
        return cell.lstrip("+").replace("\u2212", "-").replace("\u202f", "")
    return re.sub(r"(?<!\S)\+(?=\d)", "", cell)
