"""Files, workbooks, pasted text and frames into staging tables of text, one a table, nothing interpreted yet."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb
import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME, Table
from wearstats.errors import InputError, Problem, StoreError
from wearstats.store.database.connection import Store
from wearstats.store.database.failures import is_no_room
from wearstats.store.parsing.blocks import (
    Block,
    below_greeting,
    blocks,
    canonical,
    heading_problems,
    pick_delimiter,
    table_named,
    take_out_spoken,
    text_blocks,
    unknown_table,
)
from wearstats.store.parsing.incoming import (
    Incoming,
    Ragged,
    filled_sheets,
    frame_sha256,
    kept_names,
    sheet_without_rows,
    text_of,
)
from wearstats.store.parsing.limits import refuse_long_footer, refuse_many_columns, refuse_many_rows
from wearstats.store.parsing.mail import MAIL_ENDINGS, Mail, Pasted, decoded_message, may_be_mail, read_mail
from wearstats.store.parsing.mail_asks import asks_of, name_engines
from wearstats.store.parsing.phone_text import plain_text
from wearstats.store.parsing.scan import (
    FAST_FROM_BYTES,
    HALVES,
    ScannedText,
    checked_path,
    file_sha256,
    no_text,
    read_text,
    scan_text,
    split_line,
)
from wearstats.store.parsing.titles import title_above
from wearstats.store.parsing.xlsx import cell_text, hidden_sheets, read_sheets


class Staging:
    """Makes the staging tables of one intake.

    Parameters
    ----------
    store : Store
        Open for writing, files allowed.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.staged: list[Incoming] = []
        self.problems: list[Problem] = []
        self.notes: list[str] = []

    def add_path(self, path: Path, table: Table | None) -> None:
        """Stage one file; what is wrong with it joins the problems."""
        try:
            checked_path(path)
            if path.suffix.lower() == ".xlsx":
                self._add_workbook(path, table)
            elif path.suffix.lower() == ".parquet":
                self._add_parquet(path, table)
            else:
                self._add_text_file(path, table)
        except InputError as refused:
            self.problems.extend(refused.problems)

    def add_text(self, pasted: Pasted, table: Table | None) -> None:
        """Stage pasted text: sheets below the names of their tables, or a mail."""
        place = pasted.place
        try:
            if HALVES.search(pasted.text):
                raise InputError(no_text(place))
            sha256 = hashlib.sha256(pasted.text.encode()).hexdigest()
            text = plain_text(pasted.text)
            if table is None and may_be_mail(text):
                mail = read_mail(text, place=place, said=pasted.said)
                if mail.sheets or pasted.is_mail:
                    self._add_mail(mail, sha256=sha256)
                    return
            if table is None:
                text, greeting = below_greeting(text)
                self.notes += [f"{place}: '{line}' stands above the sheet, so it was not read" for line in greeting]
            found = text_blocks(text, place=place, table=table)
            for block in found:
                self.notes += [
                    f"{place}, row {number}: '{line}' is no row of the sheet, so it was not read"
                    for number, line in take_out_spoken(block)
                ]
            self._add_blocks(found, place=place, sha256=sha256)
        except InputError as refused:
            self.problems.extend(refused.problems)

    def add_frame(self, name: str, frame: pd.DataFrame) -> None:
        """Stage a frame; numbers and dates in it are written as text first."""
        table = TABLE_BY_NAME.get(name)
        if table is None:
            self.problems.append(unknown_table(name, name))
            return
        plain = pd.DataFrame(
            {
                str(column): values.map(cell_text) if values.dtype == object else values.reset_index(drop=True)
                for column, values in frame.reset_index(drop=True).items()
            }
        )
        try:
            sha256 = frame_sha256(plain)
        except UnicodeEncodeError:
            self.problems.append(no_text(name))
            return
        with self.store.frame("arriving", plain):
            self._add_typed("select * from arriving", name, table, sha256=sha256)

    def refuse_problems(self) -> None:
        """Raise `InputError` with every problem of every file, where there are any; nothing is staged then."""
        if self.problems:
            self.drop()
            raise InputError(self.problems)

    def drop(self) -> None:
        """Take away the staging tables and all that was made from them."""
        self.store.execute("drop view if exists arriving_readings")
        for (name,) in self.store.rows("select table_name from duckdb_tables() where temporary"):
            self.store.execute(f"drop table {name}")

    def keep(self, incoming: Incoming) -> None:
        """Hold a further staging table."""
        self.staged.append(incoming)

    def next_relation(self) -> str:
        """Name the next staging table."""
        return f"incoming_{len(self.staged)}"

    def _add_text_file(self, path: Path, table: Table | None) -> None:
        scanned = scan_text(path)
        table = table or table_named(path.stem)
        if (
            scanned.plain
            and scanned.size >= FAST_FROM_BYTES
            and table is not None
            and self._add_fast(path, table, scanned)
        ):
            return
        text = read_text(path, scanned)
        if table is None and path.suffix.lower() in MAIL_ENDINGS and may_be_mail(text):
            mail = read_mail(plain_text(decoded_message(text)), place=path.name)
            if mail.sheets:
                self._add_mail(mail, sha256=scanned.sha256)
                return
        self._add_blocks(text_blocks(text, place=path.name, table=table), place=path.name, sha256=scanned.sha256)

    def _add_mail(self, mail: Mail, *, sha256: str) -> None:
        """Stage the sheets of a mail; what it leaves open joins the problems."""
        name_engines(mail, self.store)
        if asks := asks_of(mail, self.store):
            step = "write what is missing into the text, a line each, or ask the owner"
            self.problems += [ask.problem for ask in asks] + [Problem(place=mail.place, found=f"not added; {step}")]
            return
        self.notes += [*mail.notes, *(sheet.assumed for sheet in mail.sheets if sheet.assumed)]
        for sheet in mail.sheets:
            self._add_blocks([sheet.block()], place=mail.place, sha256=sha256)

    def _add_fast(self, path: Path, table: Table, scanned: ScannedText) -> bool:
        """Stage a plain file by DuckDB's reader; False where it must be read with more care."""
        with path.open(encoding=scanned.encoding, newline="") as opened:
            head = [opened.readline() for _ in range(20)]
        delimiter = pick_delimiter("".join(head), table)
        headings = split_line(head[0].rstrip("\r\n"), delimiter)
        refuse_many_columns(len(headings), place=path.name)
        names = [canonical(heading) for heading in headings]
        if heading_problems(table, headings, place=path.name) or not all(names):
            return False
        relation = self.next_relation()
        held = {f"c{place}": "varchar" for place in range(len(names))}
        try:
            self.store.execute(
                f"create temp table {relation} as select * from read_csv($path, header = true, delim = $delimiter, "
                "quote = '\"', escape = '\"', auto_detect = false, columns = $columns, strict_mode = true)",
                {"path": _this_only(path), "delimiter": delimiter, "columns": held},
            )
        except duckdb.InvalidInputException:
            # some row does not fit: the careful reader says which
            return False
        if self.store.value(f"select count(*) from {relation}") + 1 != scanned.lines:
            # a cell of several lines: the careful reader counts lines as an editor does
            self.store.execute(f"drop table {relation}")
            return False
        columns = dict(zip(kept_names(table, headings), held, strict=True))
        self.keep(
            Incoming(
                file=path.name,
                table=table,
                relation=relation,
                row_number="rowid + 2",
                columns=columns,
                sha256=scanned.sha256,
                semicolons=delimiter == ";",
            )
        )
        return True

    def _add_workbook(self, path: Path, table: Table | None) -> None:
        sha256 = file_sha256(path)
        sheets = read_sheets(path)
        hidden = hidden_sheets(path)
        said = "is hidden, and was read all the same"
        self.notes += [f"{path.name}, sheet {name}: {said}" for name in sheets if name in hidden]
        named = {name: table_named(name) for name in sheets}
        if table is not None or not any(named.values()):
            if len(sheets) > 1:
                raise InputError(unknown_table(path.name, next(name for name in named if table or not named[name])))
            only = next(iter(sheets))
            named_by = table or named[only] or table_named(path.stem)
            found = blocks(enumerate(sheets[only], start=1), place=path.name, table=named_by)
            self._add_blocks(found, place=path.name, sha256=sha256)
            return
        for name, records in filled_sheets(sheets).items():
            place = f"{path.name}, sheet {name}"
            if named[name] is None:
                self.notes.append(f"{place}: names no table, so it was not read")
                continue
            found = blocks(enumerate(records, start=1), place=place, table=named[name])
            self._add_blocks(found, place=place, sha256=sha256)

    def _add_parquet(self, path: Path, table: Table | None) -> None:
        table = table or table_named(path.stem)
        if table is None:
            raise InputError(unknown_table(path.name, path.stem))
        refuse_long_footer(path)
        try:
            counted = "select sum(num_rows) from parquet_file_metadata($path)"
            rows = self.store.value(counted, {"path": _this_only(path)})
            refuse_many_rows(path, int(rows or 0))
            # columns come from the file alone, never from the names of its folders
            source = "select * from read_parquet($path, hive_partitioning = false)"
            self._add_typed(source, path.name, table, path=path, sha256=file_sha256(path))
        except (duckdb.Error, StoreError) as refused:
            # nothing but the file is read here: what is not want of room is its fault, not the store's
            cause = refused.__cause__ if isinstance(refused, StoreError) else refused
            if not isinstance(cause, duckdb.Error) or is_no_room(cause):
                raise
            raise InputError(
                Problem(
                    place=path.name,
                    found="is no Parquet file, or a damaged one",
                    allowed="a whole Parquet file",
                    next_step="write it again",
                )
            ) from None

    def _add_typed(self, source: str, file: str, table: Table, *, sha256: str, path: Path | None = None) -> None:
        """Stage columns that have types of their own, as the texts that a person would have typed."""
        params = {"path": _this_only(path)} if path is not None else None
        described = self.store.rows(f"describe {source}", params)
        headings = [str(row[0]) for row in described]
        refuse_many_columns(len(headings), place=file)
        problems = heading_problems(table, headings, place=file)
        if problems:
            raise InputError(problems)
        texts = ", ".join(f"{text_of(row[0], str(row[1]))} as c{place}" for place, row in enumerate(described))
        relation = self.next_relation()
        self.store.execute(f"create temp table {relation} as select {texts} from ({source})", params)
        incoming = Incoming(
            file=file,
            table=table,
            relation=relation,
            row_number="rowid + 2",
            columns={name: f"c{place}" for place, name in enumerate(kept_names(table, headings))},
            sha256=sha256,
        )
        self.keep(incoming)

    def _add_blocks(self, found: Sequence[Block], *, place: str, sha256: str) -> None:
        for block in found:
            where = f"{place}, {block.table.name}" if len(found) > 1 else place
            problems = heading_problems(block.table, _named(block), said=block.said, place=where)
            problems = title_above(block, problems, place=where)
            if not problems and block.said and not block.rows:
                problems = [sheet_without_rows(where, block)]
            if problems:
                self.problems.extend(problems)
            else:
                self._add_block(block, place=where, sha256=sha256)

    def _add_block(self, block: Block, *, place: str, sha256: str) -> None:
        width = len(block.headings)
        while width and not block.headings[width - 1] and not any(_filled(cells, width - 1) for _, cells in block.rows):
            width -= 1
        unnamed = [
            at + 1 for at in range(width) if not block.headings[at] and any(_filled(c, at) for _, c in block.rows)
        ]
        if unnamed:
            self.problems.append(
                Problem(
                    place=f"{place}, column {unnamed[0]}",
                    found="has cells but no name",
                    allowed="a name above each column",
                    next_step="name the column or empty it",
                )
            )
            return
        ragged = [(number, cells) for number, cells in block.rows if not _fits(cells, width, len(block.headings))]
        if width > 1 and ragged and len(ragged) == len(block.rows) and all(len(cells) == 1 for _, cells in ragged):
            self.problems.append(
                Problem(
                    place=f"{place}, row {ragged[0][0]}",
                    found=f"'{ragged[0][1][0]}' is one cell where the first line has {width} columns",
                    allowed="the same delimiter in all lines: comma, semicolon or tab",
                    next_step="save it again as CSV",
                )
            )
            return
        kept = [at for at in range(width) if block.headings[at]]
        fitting = [(number, cells) for number, cells in block.rows if _fits(cells, width, len(block.headings))]
        frame = pd.DataFrame(
            [
                [number, *(cells[at] if at < len(cells) else None for at in kept), *block.said.values()]
                for number, cells in fitting
            ],
            columns=["row_no", *(f"c{place}" for place in range(len(kept) + len(block.said)))],
        )
        relation = self.next_relation()
        casts = ", ".join(f"{name}::varchar as {name}" for name in frame.columns[1:])
        with self.store.frame("arriving", frame):
            self.store.execute(
                f"create temp table {relation} as select row_no::integer as row_no, {casts} from arriving"
            )
        names = kept_names(block.table, [*(block.headings[at] for at in kept), *block.said])
        self.keep(
            Incoming(
                file=place,
                table=block.table,
                relation=relation,
                row_number="row_no",
                columns={name: f"c{at}" for at, name in enumerate(names)},
                sha256=sha256,
                semicolons=block.semicolons,
                said=tuple(names[len(kept) :]),
                ragged=tuple(Ragged(row=number, cells=tuple(cells), columns=width) for number, cells in ragged),
            )
        )


def stage_paths(
    store: Store,
    paths: Sequence[Path],
    *,
    table: Table | None,
    pasted: Pasted | None,
    frames: Mapping[str, pd.DataFrame],
) -> Staging:
    """Stage everything of one intake; what is wrong with files stands in the problems."""
    staging = Staging(store)
    for path in paths:
        staging.add_path(path, table)
    if pasted is not None:
        staging.add_text(pasted, table)
    for name, frame in frames.items():
        staging.add_frame(name, frame)
    for incoming in staging.staged:
        if not incoming.ragged and not store.rows(f"select 1 from {incoming.relation} limit 1"):
            staging.notes.append(f"{incoming.file}: has column names but no rows, so there was nothing to add")
    return staging


def _this_only(path: Path) -> str:
    """Write a path so that DuckDB reads that file, not all those whose names its stars and brackets would fit."""
    return re.sub(r"([*?\[])", r"[\1]", str(path))


def _named(block: Block) -> list[str]:
    return [heading for heading in block.headings if heading]


def _filled(cells: Sequence[str | None], at: int) -> bool:
    return at < len(cells) and bool((cells[at] or "").strip())


def _fits(cells: Sequence[str | None], width: int, whole: int) -> bool:
    """Whether a row has a cell for each column; blank cells beyond the last column do not count."""
    return width <= len(cells) and not any(_filled(cells, at) for at in range(width, max(len(cells), whole)))
