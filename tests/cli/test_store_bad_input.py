"""Bad input, from end to end: the exit code, and a message that says where, what, what is allowed and what to do."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner, Result

from tests.store.support.small_store import make_store
from wearstats.cli.main import app
from wearstats.store.database.connection import open_store

INSPECTION = "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
READING = "inspection,spline,station,width\n"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "bench.duckdb")


def _run(store: Path, *arguments: str | Path, stdin: str | None = None) -> Result:
    return CliRunner().invoke(app, ["store", *map(str, arguments), "--store", str(store)], input=stdin)


def _added(store: Path, name: str, content: str | bytes, *options: str) -> Result:
    path = store.parent / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return _run(store, "add", path, *options)


def _counts(store: Path) -> list[tuple[int, ...]]:
    with duckdb.connect(str(store), read_only=True) as connection:
        tables = ("readings", "inspections", "fittings", "intakes", "rejects")
        return [connection.execute(f"select count(*) from {name}").fetchall()[0] for name in tables]


FILES: dict[str, tuple[str, str | bytes, tuple[str, ...]]] = {
    "empty file": ("readings.csv", "", ("readings.csv: the file is empty", "a line of column names", "save it again")),
    "blank lines only": ("readings.csv", "\n\n \n", ("readings.csv: the file is empty",)),
    "wrong delimiter": (
        "readings.csv",
        READING.replace(",", "|") + "I1|1|middle|5.98\n",
        ("'inspection|spline|station|width'", "comma, semicolon, tab", "save it again as CSV"),
    ),
    "another delimiter in the rows": (
        "readings.csv",
        READING + "I1;1;middle;5.98\nI1;2;middle;5.98\n",
        ("readings.csv, row 2: 'I1;1;middle;5.98' is one cell where the first line has 4", "the same delimiter"),
    ),
    "missing column": (
        "readings.csv",
        "inspection,spline,station,widht\nI1,1,middle,5.98\n",
        ("readings.csv, width: column width missing", "bears inspection, spline, station, width", "is 'widht' meant"),
    ),
    "unknown table": (
        "reedings.csv",
        READING + "I1,1,middle,5.98\n",
        ("reedings.csv: ", "names no table", "patterns, engine_types, gauges, check_pieces, shafts", "or give --table"),
    ),
    "duplicate header": (
        "readings.csv",
        "inspection,spline,station,width,Width\nI1,1,middle,5.98,5.97\n",
        ("readings.csv, width: column 'width' stands twice", "each column once", "rename it"),
    ),
    "binary rubbish": (
        "readings.csv",
        bytes(range(256)) * 40,
        ("readings.csv: holds bytes that are no text", "UTF-8 or Windows-1252", "save it again as CSV"),
    ),
    "a workbook called CSV": ("readings.csv", b"PK\x03\x04" + b"\x00" * 99, ("a zip or workbook", "its own ending")),
    "rubbish called a workbook": ("readings.xlsx", b"no workbook at all", ("is no XLSX workbook", "saved as .xlsx")),
    "rubbish called Parquet": ("readings.parquet", b"nothing of the sort", ("is no Parquet file", "write it again")),
    "a quote never closed": (
        "readings.csv",
        READING + 'I1,1,"middle,5.98\n',
        ("readings.csv, line ", "cannot be split into columns", "close or take away the quote"),
    ),
    "a column without a name": (
        "shafts.csv",
        "shaft,pattern,\nS7,D8,x\n",
        ("shafts.csv, column 3: has cells but no name", "a name above each column"),
    ),
}


@pytest.mark.parametrize("case", FILES)
def test_a_file_that_cannot_be_taken_adds_nothing(case: str, store: Path) -> None:
    name, content, told = FILES[case]
    before = _counts(store)
    ran = _added(store, name, content)
    assert ran.exit_code == 3, ran.output
    for part in told:
        assert part in ran.stderr
    assert ran.stdout == ""
    assert _counts(store) == before


ROWS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "wrong unit": (
        "inspections.csv",
        INSPECTION + "I7,S1,2026-02-01,owner-1,home,G1,cm\n",
        ("inspections.csv, row 2, unit: 'cm' is no unit", "mm, in, thou, tenth-thou", "write one of these"),
    ),
    "a unit with two meanings": (
        "inspections.csv",
        INSPECTION + "I7,S1,2026-02-01,owner-1,home,G1,mil\n",
        ("row 2, unit: 'mil' may mean 0.001 in = 25.4 um", "or 1 mm = 1000 um", "write thou or mm"),
    ),
    "ambiguous comma": (
        "readings.csv",
        READING + 'I1,1,nut-end,"5,980"\n',
        ("row 2, width: '5,980' may be 5.980 (decimal ',') or 5980 (thousands ',')", "write 5.980 or 5980"),
    ),
    "date 31/02": (
        "inspections.csv",
        INSPECTION + "I7,S1,31/02/2026,owner-1,home,G1,mm\n",
        ("row 2, measured_on: '31/02/2026': there is no such day", "YYYY-MM-DD"),
    ),
    "a date with two meanings": (
        "inspections.csv",
        INSPECTION + "I7,S1,03/04/2026,owner-1,home,G1,mm\n",
        ("3 April 2026 (2026-04-03), day first, or 4 March 2026 (2026-03-04), month first", "write the one"),
    ),
    "spline 11 of 10": (
        "readings.csv",
        READING + "I10,11,middle,5.448\n",
        ("row 2, spline: spline 11 of 10", "1 to 10, as D10 has them", "correct the spline's number"),
    ),
    "a station that the pattern has not": (
        "readings.csv",
        READING + "I1,1,middel,5.98\n",
        ("row 2, station: 'middel' is no station of D8", "shoulder, middle, nut-end"),
    ),
    "NaN": (
        "readings.csv",
        READING + "I1,1,nut-end,NaN\n",
        ("row 2, width: 'NaN' is no number", "a plain number", "leave the cell empty if not known"),
    ),
    "infinite": ("readings.csv", READING + "I1,1,nut-end,-inf\n", ("row 2, width: '-inf' is no number",)),
    "1e308": (
        "readings.csv",
        READING + "I1,1,nut-end,1e308\n",
        ("row 2, width: '1e308' is written with an exponent", "a plain number", "write it out"),
    ),
    "a slipped decimal": (
        "readings.csv",
        READING + "I1,1,nut-end,59.8\n",
        ("readings.csv, row 2, width: '59.8' is far from D8's 6.000 mm", "a slipped decimal? write 5.98"),
    ),
    "an inch size said to be in mm": (
        "readings.csv",
        READING + "I1,1,nut-end,0.2354\n",
        ("'0.2354' is far from D8's 6.000 mm", "read in in? write the unit in, or 5.9792 mm"),
    ),
    "thou said to be mm": ("readings.csv", READING + "I1,1,nut-end,235.4\n", ("read in thou?", "5.9792 mm")),
    "readings of no inspection": (
        "readings.csv",
        READING + "I99,1,nut-end,5.98\n",
        (
            "row 2, inspection: 'I99' is not in the store",
            "add its row, then these readings again; for example: inspection,shaft",
        ),
    ),
    "a word not known": (
        "fittings.csv",
        "fitting,shaft,hub,method\nF9,S1,H1,owner fitted\n",
        ("row 2, method: 'owner fitted' is not known here", "as-supplied, owner-fitted", "did you mean owner-fitted?"),
    ),
    "nothing where something must be": (
        "fittings.csv",
        "fitting,shaft,hub,method\nF9,,H1,owner-fitted\n",
        ("row 2, shaft: nothing is written", "a value in every row", "fill it in"),
    ),
    "out of range": (
        "hubs.csv",
        "hub,pattern,undersize_um\nH9,D8,1e308\nH8,D8,5000\n",
        ("row 2, undersize_um: '1e308'", "row 3, undersize_um: '5000' is out of range", "-500 to 3000"),
    ),
    "a row too short": (
        "hubs.csv",
        "hub,pattern,undersize_um\nH9,D8,50\nH8,D8\n",
        ("hubs.csv, row 3: has 2 cells where there are 3 columns", "3 cells in every row", "delimiter"),
    ),
}


@pytest.mark.parametrize("case", ROWS)
def test_a_row_that_cannot_be_right_is_kept_out_and_told(case: str, store: Path) -> None:
    ten = "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm\nD10,10,5.448,5.5,28,34.9,30\n"
    assert _added(store, "patterns.csv", ten).exit_code == 0
    assert _added(store, "shafts.csv", "shaft,pattern\nS10,D10\n").exit_code == 0
    assert _added(store, "inspections.csv", INSPECTION + "I10,S10,2026-02-01,w,workshop,G1,mm\n").exit_code == 0
    name, content, told = ROWS[case]
    ran = _added(store, name, content)
    assert ran.exit_code == 3, ran.output
    for part in told:
        assert part in ran.stderr
    assert "rejected" in ran.stdout
    assert "list them with: wearstats store rejects" in ran.stderr
    listed = _run(store, "rejects")
    assert listed.exit_code == 0
    assert told[0] in f"{listed.stdout}"


def test_every_problem_of_every_file_is_told_at_once(store: Path) -> None:
    (store.parent / "readings.csv").write_text("inspection,spline,station\nI1,1,middle\n")
    (store.parent / "shafts.csv").write_text("pattern\nD8\n")
    ran = _run(store, "add", store.parent / "readings.csv", store.parent / "shafts.csv", store.parent / "none.csv")
    assert ran.exit_code == 3
    for part in ("column width missing", "column shaft missing", "none.csv: there is no such"):
        assert part in ran.stderr


def test_a_table_without_rows_is_no_error(store: Path) -> None:
    ran = _added(store, "readings.csv", READING)
    assert (ran.exit_code, ran.stdout) == (
        0, "readings.csv, readings: 0 read, 0 accepted, 0 duplicate, 0 in conflict, 0 rejected\n"
    )  # fmt: skip
    assert ran.stderr == "readings.csv: has column names but no rows, so there was nothing to add\n"


def test_an_unknown_table_option(store: Path) -> None:
    ran = _added(store, "x.csv", READING + "I1,1,nut-end,5.98\n", "--table", "reading")
    assert ran.exit_code == 3
    assert "--table: 'reading' names no table; patterns, engine_types, gauges" in ran.stderr
    assert "did you mean readings?" in ran.stderr


def test_a_directory_instead_of_a_file(store: Path) -> None:
    ran = _run(store, "add", store.parent)
    assert ran.exit_code == 3
    assert f"{store.parent}: is a directory; files; name the files" in ran.stderr


COMMANDS = (["info"], ["rejects"], ["check"], ["add", "x.csv"])


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_a_store_that_is_missing(command: list[str], tmp_path: Path) -> None:
    ran = _run(tmp_path / "none.duckdb", *command)
    assert ran.exit_code == 4
    assert f"{tmp_path / 'none.duckdb'}: there is no store here; make one with: wearstats store new" in ran.stderr


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
@pytest.mark.parametrize("content", [b"", b"hello, this is a letter\n" * 400, bytes(range(256)) * 64])
def test_a_file_that_is_no_store(command: list[str], content: bytes, tmp_path: Path) -> None:
    (tmp_path / "letter.duckdb").write_bytes(content)
    ran = _run(tmp_path / "letter.duckdb", *command)
    assert ran.exit_code == 4
    assert "letter.duckdb: is not a DuckDB file, so not a store; make one with: wearstats store new" in ran.stderr
    assert (tmp_path / "letter.duckdb").read_bytes() == content


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_a_database_that_is_no_store(command: list[str], tmp_path: Path) -> None:
    with duckdb.connect(str(tmp_path / "other.duckdb")) as connection:
        connection.execute("create table stamps (country varchar)")
    ran = _run(tmp_path / "other.duckdb", *command)
    assert ran.exit_code == 4
    assert "other.duckdb: is a DuckDB file but not a wearstats store" in ran.stderr


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_a_store_that_is_a_directory(command: list[str], tmp_path: Path) -> None:
    ran = _run(tmp_path, *command)
    assert ran.exit_code == 4
    assert "is a directory, not a store; name the file in it" in ran.stderr


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_a_store_of_a_newer_version(command: list[str], store: Path) -> None:
    with duckdb.connect(str(store)) as connection:
        connection.execute("insert into migrations values (9999, 'later', now()::timestamp, null)")
    ran = _run(store, *command)
    assert ran.exit_code == 4
    assert "is of version 9999; this program knows versions up to" in ran.stderr
    assert "install a newer wearstats" in ran.stderr


def _hold(path: str, told: Connection) -> None:
    with duckdb.connect(path):
        told.send("held")
        told.recv()


@pytest.fixture
def holder(store: Path) -> Iterator[int]:
    # a forked child would inherit this process's own connections
    spawning = multiprocessing.get_context("spawn")
    ours, theirs = spawning.Pipe()
    child = spawning.Process(target=_hold, args=(str(store), theirs))
    child.start()
    assert ours.recv() == "held"
    assert child.pid is not None
    yield child.pid
    ours.send("let go")
    child.join()


@pytest.mark.parametrize("command", COMMANDS[:1] + COMMANDS[3:], ids=lambda command: str(command[0]))
def test_a_store_locked_by_another_process(
    command: list[str], store: Path, holder: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert open_store.__kwdefaults__ is not None
    monkeypatch.setitem(open_store.__kwdefaults__, "wait_s", 0.3)
    ran = _run(store, *command)
    assert ran.exit_code == 4
    assert f"is in use by process {holder}; waiting up to" in ran.stderr
    assert f"is in use by process {holder}; waited" in ran.stderr
    assert "try again when it has finished" in ran.stderr
