"""Files that would grow beyond measure are refused before they are opened, and a file's name is only its name."""

from __future__ import annotations

import random
import struct
import time
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import duckdb
import pytest

from tests.robustness.mutations import MUTATIONS, valid_files
from tests.store.support.small_store import LATE, contents, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.store.parsing.limits import MOST_COLUMNS, MOST_PARTS

SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{}</sheetData></worksheet>'
)


def _workbook(file: Path, sheet: str, *, more: int = 0, large: int = 0) -> None:
    """Write the least that is a workbook, after ECMA-376 part 1, from memory."""
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{office}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets>'
        '<sheet name="shafts" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{office}/worksheet" Target="sheet1.xml"/></Relationships>',
        "xl/sheet1.xml": SHEET.format(sheet),
    }
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in parts.items():
            packed.writestr(name, text)
        for number in range(more):
            packed.writestr(f"xl/more{number}.xml", "")
        if large:
            with packed.open("xl/large.xml", "w", force_zip64=True) as opened:
                for _ in range(large):
                    opened.write(bytes(1 << 20))


def _cell(place: str, text: str) -> str:
    row = place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return f'<row r="{row}"><c r="{place}" t="inlineStr"><is><t>{text}</t></is></c></row>'


def _packed(file: Path) -> None:
    _workbook(file, "", large=8)


def _lying(file: Path) -> None:
    # its directory says that a part is small; nothing but the directory is believed, and reading stops there
    _workbook(file, "", large=2)
    content = bytearray(file.read_bytes())
    at = content.rindex(b"PK\x01\x02", 0, content.rindex(b"xl/large.xml"))
    content[at + 24 : at + 28] = struct.pack("<I", 10)
    file.write_bytes(content)


def _many_parts(file: Path) -> None:
    _workbook(file, "", more=MOST_PARTS + 1)


def _far_corner(file: Path) -> None:
    _workbook(file, _cell("A1", "shaft") + _cell("XFD1048576", "x"))


def _far_row(file: Path) -> None:
    _workbook(file, _cell("AAA1", "shaft") + _cell("A1048576", "x"))


def _entities(file: Path) -> None:
    _workbook(file, "")
    laughs = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    with zipfile.ZipFile(file, "a") as packed:
        packed.writestr(
            "xl/sheet1.xml", f'<!DOCTYPE x [<!ENTITY a0 "ha">{laughs}]>' + SHEET.format(_cell("A1", "&a9;"))
        )


def _wide_csv(file: Path) -> None:
    file.write_text(",".join(f"c{n}" for n in range(1_000_000)) + "\n1\n", encoding="utf-8")


def _wide_enough_csv(file: Path) -> None:
    file.write_text(",".join(f"c{n}" for n in range(MOST_COLUMNS + 1)) + "\n1\n", encoding="utf-8")


def _one_line(file: Path) -> None:
    file.write_bytes(b"x" * (2 << 20))


def _wide_parquet(file: Path) -> None:
    columns = ", ".join(f"1 as c{n}" for n in range(MOST_COLUMNS + 1))
    duckdb.execute(f"copy (select {columns}) to '{file}'")


def _long_footer(file: Path) -> None:
    # what stands for the description of a million columns: only its length is read
    file.write_bytes(b"PAR1" + bytes(64) + struct.pack("<I", 1 << 28) + b"PAR1")


def _many_rows(file: Path) -> None:
    duckdb.execute(f"copy (select 'S' as shaft, 'D8' as pattern from range(3_000_000)) to '{file}' (format parquet)")


BOMBS: dict[str, tuple[Callable[[Path], None], str, str]] = {
    "part packed a thousandfold": (_packed, ".xlsx", r"unpacks from \d+ to \d+ bytes; it was not opened"),
    "directory that lies": (_lying, ".xlsx", "shafts.xlsx: "),
    "too many parts": (_many_parts, ".xlsx", r"parts; it was not opened"),
    "cell in the far corner": (_far_corner, ".xlsx", r"has 16384 columns; it was not opened"),
    "wide and a million rows": (_far_row, ".xlsx", r"spans 1048576 rows and 703 columns; it was not opened"),
    "entities of entities": (_entities, ".xlsx", "is no XLSX workbook, or a damaged one"),
    "million columns": (_wide_csv, ".csv", r"its first line is over 1048576 bytes long; it was not opened"),
    "over a thousand columns": (_wide_enough_csv, ".csv", r"has 1001 columns; it was not opened"),
    "one endless line": (_one_line, ".csv", r"its first line is over 1048576 bytes long; it was not opened"),
    "over a thousand columns, Parquet": (_wide_parquet, ".parquet", r"has 1001 columns; it was not opened"),
    "million columns, Parquet": (_long_footer, ".parquet", r"description of columns is \d+ bytes long; it was not"),
    "millions of rows in a kilobyte": (_many_rows, ".parquet", r"stands for 3000000 rows; it was not opened"),
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("files") / "bench.duckdb")


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("bomb", BOMBS)
def test_a_bomb_is_refused_by_its_size(bomb: str, store: Path, tmp_path: Path) -> None:
    make, ending, told = BOMBS[bomb]
    file = tmp_path / f"shafts{ending}"
    make(file)
    with open_store(store, write=True) as opened:
        before = contents(opened)
        start = time.monotonic()
        with pytest.raises(InputError, match=told):
            add_files(opened, [file], added_on=LATE)
        # far below what opening it would take; the margin is for a busy machine
        assert time.monotonic() - start < 10
        assert contents(opened) == before


def test_a_file_named_like_a_pattern_brings_no_other_file(store: Path, tmp_path: Path) -> None:
    named, other = tmp_path / "shaft[s]?*.parquet", tmp_path / "shafts1x.parquet"
    for file, shaft in ((named, "S-named"), (other, "S-other")):
        duckdb.execute(f"copy (select '{shaft}' as shaft, 'D8' as pattern) to '{tmp_path / 'new'}' (format parquet)")
        (tmp_path / "new").rename(file)
    large = "shaft,pattern\n" + "".join(f"{{}}-{number},D8\n" for number in range(30_000))
    (tmp_path / "more?.csv").write_text(large.replace("{}", "L"), encoding="utf-8")
    (tmp_path / "more1.csv").write_text(large.replace("{}", "M"), encoding="utf-8")
    with open_store(store, write=True) as opened:
        report = add_files(opened, [named, tmp_path / "more?.csv"], table="shafts", added_on=LATE)
        assert [file.accepted for file in report.files] == [1, 30_000]
        assert opened.value("select count(*) from shafts where shaft like 'M-%' or shaft = 'S-other'") == 0


def test_a_folder_s_name_is_no_column(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shaft=S-9"
    folder.mkdir()
    duckdb.execute(f"copy (select 'D8' as pattern) to '{folder / 'shafts.parquet'}'")
    with open_store(store, write=True) as opened, pytest.raises(InputError, match="column shaft missing"):
        add_files(opened, [folder / "shafts.parquet"], added_on=LATE)


def test_a_spoiled_parquet_file_is_not_taken_for_a_damaged_store(tmp_path: Path) -> None:
    files = valid_files(tmp_path)["parquet"]
    with open_store(make_store(tmp_path / "kept.duckdb"), write=True) as store:
        for number in range(150):
            rng = random.Random(number)
            name, content = rng.choice(files)
            spoil = rng.choice([*MUTATIONS["parquet"].values()])
            (tmp_path / name).write_bytes(spoil(content, rng))
            # the file's name, or nothing at all; never the store's, which would be restored for nothing
            with suppress(InputError):
                add_files(store, [tmp_path / name], added_on=LATE)
