"""Valid files of every form that intake takes, and the ways in which they are spoiled."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable
from pathlib import Path

import duckdb
import pandas as pd

from tests.store.support.small_store import inspection, readings_of, small_rows

Mutation = Callable[[bytes, random.Random], bytes]

ODD_CELLS = [
    "",
    " ",
    "nan",
    "NaT",
    "inf",
    "-1",
    "1e999",
    "1e-400",
    "99999999999999999999",
    "5,98",
    "1.234,5",
    "5.98 mm",
    "0x1F",
    "=1+1",
    "+1",
    "-x",
    "@SUM(A1)",
    "'=1",
    "''",
    '"',
    "31/02/2026",
    "2026-02-30",
    "0000-00-00",
    "99999-01-01",
    "2026-13",
    "'; drop table shafts; --",
    "<script>alert(1)</script>",
    "\u202eabc",
    "\u00a05.98",
    "\u0665.\u0669\u0668",
    "\U0001f527",
    "\ufeff",
    "x" * 10_000,
    "a\nb",
    "a\r\nb",
    "a;b",
    "a,b",
    "\\",
    "NULL",
    "None",
    "../../etc",
    "readings",
    "inspection: I1",
    "trial",
]
"""Cells that no form foresees."""

ODD_BYTES = [
    b"\x00",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\xed\xa0\x80",
    b'"',
    b"\r",
    b"\n\n",
    b"\x1a",
    b",,,,",
    b";",
    b"\t",
    b"'",
]


def flip_bits(data: bytes, rng: random.Random) -> bytes:
    """Flip one to eight bits."""
    spoiled = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        spoiled[rng.randrange(len(spoiled))] ^= 1 << rng.randrange(8)
    return bytes(spoiled)


def overwrite_bytes(data: bytes, rng: random.Random) -> bytes:
    """Put random bytes over a span."""
    at, length = rng.randrange(len(data)), rng.randint(1, 16)
    return data[:at] + rng.randbytes(length) + data[at + length :]


def cut_short(data: bytes, rng: random.Random) -> bytes:
    """Lose the end."""
    return data[: rng.randrange(len(data))]


def lose_span(data: bytes, rng: random.Random) -> bytes:
    """Lose a span in the middle."""
    at = rng.randrange(len(data))
    return data[:at] + data[at + rng.randint(1, 64) :]


def repeat_span(data: bytes, rng: random.Random) -> bytes:
    """Repeat a span."""
    at, times = rng.randrange(len(data)), rng.randint(2, 20)
    span = data[at : at + rng.randint(1, 64)]
    return data[:at] + span * times + data[at:]


def insert_odd_bytes(data: bytes, rng: random.Random) -> bytes:
    """Insert marks that parsers stumble over."""
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(ODD_BYTES) * rng.randint(1, 3) + data[at:]


def swap_spans(data: bytes, rng: random.Random) -> bytes:
    """Exchange two parts of the file."""
    one, other = sorted((rng.randrange(len(data)), rng.randrange(len(data))))
    return data[other:] + data[one:other] + data[:one]


BYTE_MUTATIONS: dict[str, Mutation] = {
    made.__name__: made
    for made in (flip_bits, overwrite_bytes, cut_short, lose_span, repeat_span, insert_odd_bytes, swap_spans)
}


def _lines(data: bytes) -> list[list[str]]:
    text = data.decode("utf-8")
    delimiter = ";" if text.count(";") > text.count(",") else ","
    return [line.split(delimiter) for line in text.splitlines()]


def _joined(lines: list[list[str]], *, delimiter: str = ",") -> bytes:
    return ("\n".join(delimiter.join(cells) for cells in lines) + "\n").encode("utf-8", "surrogatepass")


def odd_cells(data: bytes, rng: random.Random) -> bytes:
    """Put odd texts in one to four cells."""
    lines = _lines(data)
    for _ in range(rng.randint(1, 4)):
        line = rng.choice(lines)
        line[rng.randrange(len(line))] = rng.choice(ODD_CELLS)
    return _joined(lines)


def shuffle_columns(data: bytes, rng: random.Random) -> bytes:
    """Take away, repeat or exchange columns."""
    lines = _lines(data)
    width = max(len(line) for line in lines)
    order = (
        rng.choices(range(width), k=rng.randint(1, width + 2))
        if rng.random() < 0.5
        else rng.sample(range(width), width)
    )
    return _joined([[line[at] for at in order if at < len(line)] for line in lines])


def shuffle_rows(data: bytes, rng: random.Random) -> bytes:
    """Take away, repeat or exchange rows, the column names too."""
    lines = _lines(data)
    return _joined(
        rng.choices(lines, k=rng.randint(1, 2 * len(lines))) if rng.random() < 0.5 else rng.sample(lines, len(lines))
    )


def other_delimiter(data: bytes, rng: random.Random) -> bytes:
    """Set columns apart by another mark."""
    return _joined(_lines(data), delimiter=rng.choice([";", "\t", "|", " ", ", ", ",,"]))


def other_encoding(data: bytes, rng: random.Random) -> bytes:
    """Write in another encoding, with other line ends."""
    text = (
        odd_cells(data, rng)
        .decode("utf-8", "replace")
        .replace("\n", rng.choice(["\n", "\r\n", "\r", "\n\r", "\u2028"]))
    )
    return text.encode(rng.choice(["utf-16", "utf-16-be", "utf-8-sig", "cp1252", "cp437", "utf-32"]), "replace")


TEXT_MUTATIONS = BYTE_MUTATIONS | {
    made.__name__: made for made in (odd_cells, shuffle_columns, shuffle_rows, other_delimiter, other_encoding)
}


def spoil_part(data: bytes, rng: random.Random) -> bytes:
    """Spoil the text of one part of a workbook, and pack it well again."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = rng.choice([*parts, *[part for part in parts if "sheet" in part] * 4])
    parts[name] = rng.choice([*BYTE_MUTATIONS.values()])(parts[name], rng)
    return _packed(parts)


def odd_sheet_cells(data: bytes, rng: random.Random) -> bytes:
    """Put odd values in a workbook's cells and odd places on them."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    name = rng.choice([part for part in parts if "worksheets/sheet" in part])
    text = parts[name].decode()
    marks = [">I1<", ">5.9", ' t="', ' r="', "<v>", "</c>", "<row", "<is>"]
    puts = [
        ' t="d',
        ' t="e',
        ' t="b',
        ' t="s',
        "<v>1e999",
        ' r="XFD1',
        ' r="A1048576',
        ' r="ZZZZ9',
        "<f>1+1</f><v>",
        "<row r='9999999'",
    ]
    for _ in range(rng.randint(1, 3)):
        mark = rng.choice(marks)
        places = text.split(mark)
        if len(places) > 1:
            at = rng.randrange(1, len(places))
            put = rng.choice([*puts, mark + rng.choice(ODD_CELLS).replace("<", "&lt;")])
            text = mark.join(places[:at]) + put + mark.join(places[at:])
    parts[name] = text.encode("utf-8", "surrogatepass")
    return _packed(parts)


def _packed(parts: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, part in parts.items():
            packed.writestr(name, part)
    return held.getvalue()


XLSX_MUTATIONS = BYTE_MUTATIONS | {made.__name__: made for made in (spoil_part, odd_sheet_cells)}


def valid_tables() -> dict[str, pd.DataFrame]:
    """Give rows that intake takes: some known to the small store, some new."""
    rows = small_rows()
    rows["inspections"] += [inspection("I9", measured_on="2026-05-01", hours="120", register="30.01")]
    rows["readings"] += readings_of("I9", ["5.98", "5.97", "5.96"], station="shoulder")
    rows["shafts"] += [{"shaft": "S2", "pattern": "D8", "engine": "carr pump 2", "region": "upland"}]
    return {name: pd.DataFrame(items, dtype=object) for name, items in rows.items()}


def valid_files(folder: Path) -> dict[str, list[tuple[str, bytes]]]:
    """Give, for each form, names and contents of valid files.

    Parameters
    ----------
    folder : pathlib.Path
        Where they may be written on the way.

    Returns
    -------
    dict
        ``csv``, ``xlsx``, ``parquet``, ``pasted`` to (file name, content).
    """
    tables = valid_tables()
    files: dict[str, list[tuple[str, bytes]]] = {"csv": [], "xlsx": [], "parquet": [], "pasted": []}
    for name, frame in tables.items():
        text = frame.to_csv(index=False)
        files["csv"].append((f"{name}.csv", text.encode()))
        files["pasted"].append((name, f"{name}\n{text}".encode()))
        book = io.BytesIO()
        frame.to_excel(book, sheet_name=name, index=False)
        files["xlsx"].append((f"{name}.xlsx", book.getvalue()))
        place = folder / f"{name}.parquet"
        with duckdb.connect() as connection:
            connection.register("arriving", frame.fillna("").astype("str"))
            connection.execute(f"copy (select * from arriving) to '{place}' (format parquet)")
        files["parquet"].append((place.name, place.read_bytes()))
    sheet = (
        "inspections\nshaft: S1\nmeasured_on: 2026-06-01\nmeasured_by: owner-1\nmeasured_at: home\nunit: mm\n"
        "gauge: G1\ninspection: I30\nhours\n120\n\nreadings\ninspection: I30\nspline;shoulder;middle;nut-end\n"
        "1;5,98;5,96;5,98\n2;5,97;5,96;5,98\n"
    )
    files["pasted"].append(("sheet", sheet.encode()))
    return files


MUTATIONS: dict[str, dict[str, Mutation]] = {
    "csv": TEXT_MUTATIONS,
    "xlsx": XLSX_MUTATIONS,
    "parquet": BYTE_MUTATIONS,
    "pasted": TEXT_MUTATIONS,
}
