"""Rows of cells into blocks, one a table: where the column names stand, what was said above them, which rows follow.

A file is mostly one block: column names, then rows. A pasted text or a filled-in form may say more::

    inspections
    inspection;shaft;measured_on;measured_by;measured_at;gauge;unit
    I-17;S-4;2026-03-02;owner-9;home;G-9;mm

    readings
    inspection: I-17
    spline;shoulder;middle;nut-end
    1;5,98;5,96;5,98

A line that holds only a table's name begins a block; a line ``column: value`` above the column names holds for all its
rows, and where nothing stands behind the colon nothing is said.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from wearstats.domain.examples import example_lines, example_said
from wearstats.domain.tables import HUB_ENDS, STATIONS, TABLE_BY_NAME, TABLES, Table
from wearstats.errors import InputError, Problem
from wearstats.store.parsing.cells import UNPRINTABLE
from wearstats.store.parsing.limits import refuse_many_columns
from wearstats.store.parsing.scan import DELIMITERS, empty_file, split_line

Cells = Sequence[str | None]
_SAID = re.compile(r"(?P<name>[A-Za-z][A-Za-z_0-9 ]*):\s*(?P<value>.*)")
_LIKE_A_ROW = re.compile(r"^\s*[0-9]|[0-9][.,][0-9]|:\s")
_OTHER_MARKS = re.compile(r"[|:,;\t ^~]")
REJECT_COLUMNS = (
    "reject",
    "reject_file",
    "reject_row",
    "reject_column",
    "reject_found",
    "reject_allowed",
    "reject_next_step",
)
"""Columns of exported rejects: the first ties a mended row to its reject, the others are for the reader."""

NAMED_BY = {
    "inspection": ("shaft", "measured_on", "measured_by"),
    "gauge": ("measured_by", "kind", "resolution", "unit"),
}
"""What an owner's sheet need not name, and the columns from which its name is made.

The same shaft, day and measurer make the same name, so the same sheet twice is the same inspection.
"""
SETTLED_LATER = frozenset({"pattern"})
"""A required column that a file may do without where the store knows what belongs there; see `settle_patterns`."""
STANDARD_SIZES = frozenset({"splines", "width_mm", "space_width_mm", "minor_mm", "major_mm", "engaged_mm"})
"""Columns that a row of patterns may do without where its name is that of a standard size; see `settle_patterns`."""
_REQUIRED = {name for table in TABLES for name in table.required}
_COLUMNS = {column.name for table in TABLES for column in table.columns}


@dataclass(slots=True, kw_only=True)
class Block:
    """Column names and the rows below them.

    Parameters
    ----------
    table : Table
        Which table they belong to.
    headings : list of str
        The column names as they stand.
    said : dict
        What was said above them: column to value.
    rows : list of (int, cells)
        The row's number, counted from the top of the file or sheet from 1 as an editor or a spreadsheet shows it, and
        its cells; of a row of several lines the first.
    semicolons : bool
        Whether semicolons set the columns apart.
    """

    table: Table
    headings: list[str] = field(default_factory=list)
    said: dict[str, str] = field(default_factory=dict)
    rows: list[tuple[int, Cells]] = field(default_factory=list)
    semicolons: bool = False


def canonical(heading: str) -> str:
    """Write a column's name as the contract does: small letters, ``_`` for blanks; stations with ``-``."""
    name = "_".join(heading.strip().strip("\ufeff").lower().split())
    hyphened = name.replace("_", "-")
    return hyphened if hyphened in (*STATIONS, *HUB_ENDS) else name


def table_named(text: str) -> Table | None:
    """Find the table that a file or sheet name names: ``readings``, ``Readings 2026-03``; None where it names none."""
    name = canonical(text).replace("-", "_")
    found = [table for table in TABLES if re.fullmatch(rf"{table.name}([^a-z].*)?", name)]
    return max(found, key=lambda table: len(table.name), default=None)


def unknown_table(place: str, text: str) -> Problem:
    """Say that a name names no table."""
    near = difflib.get_close_matches(canonical(text), TABLE_BY_NAME, n=1)
    hint = f"did you mean {near[0]}? " if near else ""
    return Problem(
        place=place,
        found=f"'{text}' names no table",
        allowed=", ".join(TABLE_BY_NAME),
        next_step=f"{hint}name the file after its table, or give --table",
        example="readings.csv, or a first line that says readings",
    )


def pick_delimiter(text: str, table: Table | None) -> str:
    """Find which of comma, semicolon and tab sets the columns of a text apart: the one that makes most known names."""
    known = {column.name for item in ([table] if table else TABLES) for column in item.columns} | {*STATIONS, *HUB_ENDS}
    best, best_score = ",", (-1, -1)
    for line in text.splitlines()[:40]:
        for delimiter in DELIMITERS:
            cells = split_line(line, delimiter)
            score = (sum(canonical(cell) in known for cell in cells), len(cells))
            if len(cells) > 1 and score > best_score:
                best, best_score = delimiter, score
        if best_score[0] >= 2:
            break
    return best


def text_blocks(text: str, *, place: str, table: Table | None) -> list[Block]:
    """Split a text into blocks; raises `InputError`."""
    delimiter = pick_delimiter(text, table)
    # a field may be long, but a quote that is never closed would swallow the rest of the file
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[tuple[int, Cells]] = []
    begins = 1
    try:
        for cells in reader:
            records.append((begins, cells))
            begins = reader.line_num + 1
    except csv.Error as refused:
        raise InputError(
            Problem(
                place=f"{place}, line {reader.line_num}",
                found=f"cannot be split into columns ({refused})",
                allowed='text in "double quotes", quotes inside it doubled',
                next_step="close or take away the quote",
            )
        ) from None
    found = blocks(records, place=place, table=table)
    return [replace(block, semicolons=delimiter == ";") for block in found]


def names_a_table(text: str) -> bool:
    """Whether some line of a text names a table, so that sheets follow and not words."""
    return any(_names_table([line.strip()]) is not None for line in text.splitlines())


def below_greeting(text: str) -> tuple[str, list[str]]:
    """Blank the lines of a pasted message that stand above the first line naming a table; gives them too.

    The rows below keep their numbers. A line ``column: value`` is no greeting, and without a line naming a table
    nothing is taken away.
    """
    lines = re.split("\r\n|\n|\r", text)
    named = next((at for at, line in enumerate(lines) if _names_table([line.strip()]) is not None), 0)
    spoken = [at for at in range(named) if lines[at].strip("\ufeff \t") and not _says([lines[at].strip()])]
    greeting = [lines[at].strip("\ufeff \t") for at in spoken]
    if not greeting:
        return text, []
    return "\n".join("" if at in spoken else line for at, line in enumerate(lines)), greeting


def take_out_spoken(block: Block) -> list[tuple[int, str]]:
    """Take the lines of a pasted message that stand among a sheet's rows, such as a signature, out of them.

    Such a line has no delimiter where the rows have two at least, does not begin with a digit and holds no size.
    """
    spoken = [
        (number, cells[0].strip())
        for number, cells in block.rows
        if len(block.headings) > 2 and len(cells) == 1 and cells[0] and not _LIKE_A_ROW.search(cells[0])
    ]
    numbers = {number for number, _ in spoken}
    block.rows = [row for row in block.rows if row[0] not in numbers]
    return spoken


def blocks(records: Iterable[tuple[int, Cells]], *, place: str, table: Table | None) -> list[Block]:
    """Sort rows of cells into blocks.

    Parameters
    ----------
    records : iterable of (int, cells)
        All rows from the top, each with its number; blank ones may be there or not.
    place : str
        File, or file and sheet, for messages.
    table : Table or None
        The table that name or option says; None where the text itself must say it.

    Raises
    ------
    InputError
        Nothing there, column names only, or no table named.
    """
    found: list[Block] = []
    current: Block | None = None
    pending: dict[str, str] = {}
    formal = False
    for number, cells in records:
        filled = [cell.strip() for cell in cells if cell is not None and cell.strip()]
        if not filled:
            continue
        named = _names_table(filled) if formal or current is None or not current.headings else None
        if named is not None:
            current, formal = Block(table=named), True
            found.append(current)
            continue
        said = _says(filled) if current is None or not current.headings else None
        if said is not None:
            _take_said(current.said if current else pending, *said, place=f"{place}, row {number}")
            formal = True
            continue
        if current is None:
            if table is None:
                raise InputError(unknown_table(place, filled[0] if len(filled) == 1 else place))
            current = Block(table=table)
            found.append(current)
        if not current.headings:
            current.said = pending | current.said
            refuse_many_columns(len(cells), place=place)
            current.headings = [(cell or "").strip().strip("\ufeff") for cell in cells]
            continue
        if not (formal and _said_again(current, cells, filled, place=f"{place}, row {number}")):
            current.rows.append((number, cells))
    if not found:
        raise InputError(empty_file(place))
    return found


def _names_table(filled: list[str]) -> Table | None:
    if len(filled) != 1:
        return None
    text = filled[0].strip("\ufeff")
    name = text.partition(":")[2] if text.lower().startswith("table:") else text
    return TABLE_BY_NAME.get(canonical(name).replace("-", "_"))


def _says(filled: list[str]) -> tuple[str, str] | None:
    """Read a line ``column: value``, in one cell or in two; the value may be left blank."""
    match = _SAID.fullmatch(filled[0].strip("\ufeff"))
    if match is None or len(filled) > 2 or (match["value"] and len(filled) == 2):
        return None
    return canonical(match["name"]), match["value"] or (filled[1] if len(filled) == 2 else "")


def _take_said(said: dict[str, str], name: str, value: str, *, place: str) -> None:
    """Take one line ``column: value``; a blank one says nothing, unless its column must be filled in."""
    if said.get(name, value) != value:
        raise InputError(
            Problem(
                place=f"{place}, {name}",
                found=f"'{value}' where '{said[name]}' was said above",
                allowed="each line once for all rows below",
                next_step="take one away",
            )
        )
    if value or name in _REQUIRED:
        said[name] = value


def _said_again(block: Block, cells: Cells, filled: list[str], *, place: str) -> bool:
    """Whether a line below the rows says once more what stands above them: its column names, or ``column: value``.

    So is a sheet pasted twice without its first line. Where such a line says something else the rows below belong to
    another sheet, and none can be taken.
    """
    names = [canonical(heading) for heading in block.headings if heading]
    if [canonical(cell) for cell in cells if cell is not None and cell.strip()] == names:
        return True
    name, value = _says(filled) or ("", "")
    if name not in block.said and not (name in _COLUMNS and not value):
        return False
    if value and value != block.said[name]:
        raise InputError(
            Problem(
                place=f"{place}, {name}",
                found=f"'{value}' below the rows, where '{block.said[name]}' was said above them",
                allowed="one sheet below each line that names its table",
                next_step=f"write {block.table.name} alone on a line above the second sheet",
            )
        )
    return True


def heading_problems(table: Table, headings: Sequence[str], *, said: Iterable[str] = (), place: str) -> list[Problem]:
    """Say what is wrong with a block's column names: twice the same, required ones missing, not split at all."""
    names = [canonical(heading) for heading in headings]
    if len(names) == 1 and _OTHER_MARKS.search(headings[0].strip()):
        return [
            Problem(
                place=place,
                found=f"its first line is one column, '{headings[0][:60]}'",
                allowed=f"columns set apart by {', '.join(DELIMITERS.values())}",
                next_step="save it again as CSV with one of these delimiters",
                example=example_lines(table),
            )
        ]
    twice = sorted({name for name in names if name and names.count(name) > 1} | ({*said} & {*names}))
    problems = [
        Problem(
            place=f"{place}, {name}",
            found=f"column '{name}' stands twice",
            allowed="each column once",
            next_step="take one away or rename it",
        )
        for name in twice
    ] + [
        Problem(
            place=f"{place}, column {number}",
            found="its name has a sign that cannot be printed",
            allowed="letters, digits and other signs that can be seen",
            next_step="write the name anew",
        )
        for number, heading in enumerate(headings, start=1)
        if UNPRINTABLE.search(heading)
    ]
    later = STANDARD_SIZES if table.name == "patterns" else SETTLED_LATER
    return problems + missing_columns(table, [*names, *said], place=place, spared=later)


def missing_columns(
    table: Table, names: Sequence[str], *, place: str, spared: frozenset[str] = frozenset()
) -> list[Problem]:
    """Name the required columns that are not there, but for some that may be filled in later."""
    wide = table.name == "readings" and "width" not in names and "station" not in names
    made = {name for name, parts in NAMED_BY.items() if {*parts} <= {*names}}
    made |= {"width", "station"} if wide else set()
    made |= {"end", "width_mm"} if table.name == "hub_spaces" and {*HUB_ENDS} & {*names} else set()
    required = [name for name in table.required if name not in made | spared]
    missing = [name for name in required if name not in names]
    parts = NAMED_BY["inspection"]
    sheet = "inspection" in missing and bool({*parts} & {*names})
    if sheet:
        # an owner's sheet is asked for what it lacks, not for the name made from that
        missing = [part for part in parts if part not in names] + [name for name in missing if name != "inspection"]
    if wide and not missing and not set(names) - {"inspection", "spline", "trial"}:
        missing = ["width", "station"]
    spare = [name for name in names if name not in _COLUMNS]
    hints = [
        f"is '{near[0]}' meant for {name}?" for name in missing if (near := difflib.get_close_matches(name, spare, 1))
    ]
    if not missing:
        return []
    noun = "column" if len(missing) == 1 else "columns"
    paper = (
        "; readings may also stand as on paper: a row a spline, a column a station" if table.name == "readings" else ""
    )
    return [
        Problem(
            place=f"{place}, {', '.join(missing)}",
            found=f"{noun} {', '.join(missing)} missing; there are {', '.join(name for name in names if name)}",
            allowed=(
                f"a sheet says {', '.join(parts)} above its rows"
                if sheet
                else f"a file of {table.name} bears {', '.join(table.required)}{paper}"
            ),
            next_step=" ".join(hints) or "add what is missing, or say which table it is with --table",
            example=example_said(missing, TABLES) if sheet else example_lines(table),
        )
    ]
