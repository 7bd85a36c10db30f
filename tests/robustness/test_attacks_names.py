"""Whatever a thing is called, it is called that: in the store, its exports, pages, pictures, forms and on terminals."""

from __future__ import annotations

import io
import json
import re
import shutil
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from tests.report.forms.test_sheets_fitting import SHEET
from tests.report.forms.test_sheets_pages import FOLLOW_UP, MEASURING
from tests.robustness.hostile_names import KEPT, LONG, TURNED, UNPRINTABLE, added, again, make_named_store
from tests.robustness.hostile_page import CHARTS, NAMES_DRAWN, named_chart, named_page
from tests.store.support.small_store import LATE, contents, make_store
from wearstats.cli.main import app
from wearstats.cli.running.output import print_note, print_sentences, print_table
from wearstats.errors import InputError, ReportError
from wearstats.report.forms.fitting import fitting_page
from wearstats.report.forms.form import FollowUpForm, MeasuringForm
from wearstats.report.forms.pages import form_page, print_page
from wearstats.report.forms.workbooks import follow_up_book, measuring_book
from wearstats.report.page.interactive import interactive_data
from wearstats.report.page.model import Page
from wearstats.report.page.render import render_page
from wearstats.report.rendering.charts import chart_svg
from wearstats.report.rendering.escape import shown
from wearstats.report.rendering.tables import DataTable
from wearstats.store.archive.export import export_folder, export_workbook
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.store.kept_out.files import export_rejects, list_rejects
from wearstats.studies.forms import SheetFitting


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_named_store(tmp_path_factory.mktemp("named") / "named.duckdb")


def test_a_store_calls_things_what_they_are_called(named: Path) -> None:
    with open_store(named) as store:
        for thing in ("shaft", "hub", "inspection", "fitting"):
            held = {name for (name,) in store.rows(f"select {thing} from {thing}s")}
            assert set(KEPT) <= held
        notes = {value for (value,) in store.rows("select value from notes")}
        assert set(KEPT) <= notes
        # one asked for is the one found, whatever SQL its name would be
        for name in KEPT:
            assert store.rows("select shaft from shafts where shaft = $name", {"name": name}) == [(name,)]


def test_names_come_back_from_a_folder_of_csv(named: Path, tmp_path: Path) -> None:
    with open_store(named) as store:
        export_folder(store, tmp_path / "out")
        before = contents(store)
    with open_store(again(tmp_path / "again.duckdb", sorted((tmp_path / "out").iterdir()))) as store:
        assert contents(store) == before


def test_names_come_back_from_a_workbook(named: Path, tmp_path: Path) -> None:
    with open_store(named) as store:
        to = export_workbook(store, tmp_path / "out.xlsx").to
        before = contents(store)
    with open_store(again(tmp_path / "again.duckdb", [to])) as store:
        assert contents(store) == before


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("made") / "bench.duckdb")


@pytest.fixture
def small(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path))


def test_signs_that_cannot_be_printed_are_kept_out_with_the_reason(small: Path, tmp_path: Path) -> None:
    rows = [{"shaft": name, "pattern": "D8", "colour": None} for name in UNPRINTABLE]
    rows += [{"shaft": f"S-{at}", "pattern": "D8", "colour": name} for at, name in enumerate(UNPRINTABLE)]
    report = added(small, "shafts", rows)
    assert [(file.accepted, file.rejected) for file in report.files] == [(0, len(rows))]
    for name, problem in zip(UNPRINTABLE * 2, report.files[0].problems, strict=True):
        sign = re.search(r"[^ -~]", name)
        assert sign is not None
        assert f"(U+{ord(sign[0]):04X})" in problem
    # they can be mended and added again
    with open_store(small, write=True) as store:
        (file,) = export_rejects(store, tmp_path / "mended")
        file.write_text(file.read_text(encoding="utf-8").replace("\ufffd", "x"), encoding="utf-8")
        mended = add_files(store, [file], added_on=LATE)
        assert (mended.kept_out, mended.settled) == (0, len(rows))
        assert list_rejects(store).empty


TEXT = "shaft,pattern\nS\0\x1b9,D8\n"


@pytest.mark.parametrize("kind", ["utf-16", "parquet", "pasted", "beside a reading"])
def test_no_file_brings_such_signs_in(kind: str, small: Path, tmp_path: Path) -> None:
    file = tmp_path / {"parquet": "shafts.parquet", "beside a reading": "readings.csv"}.get(kind, "shafts.csv")
    if kind == "parquet":
        duckdb.execute(f"copy (select 'S' || chr(0) || chr(27) || '9' as shaft, 'D8' as pattern) to '{file}'")
    elif kind == "beside a reading":
        file.write_text("inspection,spline,station,width,said\nI1,1,nut-end,5.98,\x1b[31m\n", encoding="utf-8")
    else:
        file.write_bytes(TEXT.encode("utf-16"))
    text = f"shafts\n{TEXT}" if kind == "pasted" else None
    with open_store(small, write=True) as store:
        report = add_files(store, [] if text else [file], added_on=LATE, text=text)
        assert any("cannot be printed" in line for line in [*report.notes, *report.files[0].problems])
        assert store.value("select count(*) from shafts") == 1
        assert store.value("select count(*) from notes") == 0


def test_a_column_s_name_with_such_a_sign_is_refused(small: Path, tmp_path: Path) -> None:
    file = tmp_path / "shafts.csv"
    file.write_text("shaft,pattern,\x1b]0;x\nS9,D8,1\n", encoding="utf-8")
    with (
        open_store(small, write=True) as store,
        pytest.raises(InputError, match="column 3: its name has a sign that cannot be printed"),
    ):
        add_files(store, [file], added_on=LATE)


def test_pasted_bytes_that_are_no_text_are_refused(small: Path) -> None:
    pasted = b"shafts\nshaft,pattern\nS\xff9,D8\n"
    ran = CliRunner().invoke(app, ["store", "add", "-", "--store", str(small)], input=pasted)
    assert ran.exit_code == 3, ran.output
    assert "pasted text: holds bytes that are no text" in ran.stderr
    # as they come in where the system's texts are ASCII
    with open_store(small, write=True) as store, pytest.raises(InputError, match="holds bytes that are no text"):
        add_files(store, [], added_on=LATE, text=pasted.decode("utf-8", errors="surrogateescape"))
    with pytest.raises(InputError, match="holds bytes that are no text"):
        added(small, "shafts", [{"shaft": "half \ud800", "pattern": "D8"}])


@pytest.fixture(scope="module")
def tags() -> dict[str, set[str]]:
    """Draw each chart with a harmless name: these tags and attributes it may have."""
    return {kind: _shape(chart_svg(named_chart(kind, "S-1"), name="x")) for kind in CHARTS}


def _shape(svg: str) -> set[str]:
    root = ET.fromstring(svg)
    # a title of several lines has a span a line
    return {f"{item.tag} {name}" for item in root.iter() if "tspan" not in item.tag for name in ("", *item.attrib)}


@pytest.mark.parametrize("kind", CHARTS)
def test_a_picture_shows_names_as_text(kind: str, tags: dict[str, set[str]]) -> None:
    # all at once: a picture takes a tenth of a second
    name = " ".join(NAMES_DRAWN)
    svg = chart_svg(named_chart(kind, name), name="x")
    assert _shape(svg) == tags[kind]
    assert not set("\0\x07\x1b\x7f\x9b\uffff\u202a\u202e\u2066\u2067") & set(svg)


@pytest.mark.slow
def test_a_picture_of_a_very_long_name_is_drawn() -> None:
    svg = chart_svg(named_chart("map", LONG), name="x")
    assert "L" * 40 in svg


class _Read(HTMLParser):
    """Read a page as a browser does: its tags and its text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: dict[str, set[str]] = {}
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.setdefault(tag, set()).update(name for name, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def _read(page: str) -> _Read:
    read = _Read()
    read.feed(page)
    read.close()
    return read


@pytest.fixture(scope="module")
def hostile() -> Page:
    return named_page(" | ".join(NAMES_DRAWN))


def test_the_page_shows_names_as_text(hostile: Page) -> None:
    plain = _read(render_page(named_page("S-1 " * 40)))
    page = _read(render_page(hostile))
    assert page.tags == plain.tags
    text = "".join(page.text)
    for name in NAMES_DRAWN:
        assert text.count(shown(name)) >= 9, name


def test_the_data_of_a_page_with_a_script_cannot_end_it(hostile: Page) -> None:
    data = interactive_data(hostile)
    assert json.loads(data)["named"]
    assert not re.search("[<\u2028\u2029]", data)


@pytest.mark.parametrize("name", [" | ".join(NAMES_DRAWN), LONG])
def test_forms_and_fitting_sheets_show_names_as_text(name: str) -> None:
    def pages(name: str) -> list[str]:
        pattern = replace(MEASURING.pattern, pattern=name)
        measuring = MeasuringForm(pattern=pattern, wording=MEASURING.wording, shaft=name)
        asked = SheetFitting(fitting=name, shaft=name, hub=name, fitted_on="2026-03")
        forms = (measuring, FollowUpForm(fittings=(asked,), wording=FOLLOW_UP.wording))
        sheet = replace(SHEET, shaft=name, hub=name, pattern=pattern)
        return [
            *(form_page(form) for form in forms),
            *(print_page(form, paper="A4") for form in forms),
            fitting_page(sheet, MEASURING.wording, paper="A4"),
        ]

    for plain, page in zip(pages("S-1"), pages(name), strict=True):
        read = _read(page)
        assert read.tags == _read(plain).tags
        assert shown(name) in "".join(read.text)


def test_a_form_gives_back_the_very_name() -> None:
    asked = SheetFitting(fitting=TURNED[0], shaft="S1", hub="H1", fitted_on=None)
    page = form_page(FollowUpForm(fittings=(asked,), wording=FOLLOW_UP.wording))
    assert f'data-fitting="{TURNED[0]}"' in page
    assert page.count(TURNED[0]) == 1


def test_a_book_for_a_name_that_no_workbook_holds_is_refused() -> None:
    for name in (*UNPRINTABLE, "L" * 40_000):
        asked = SheetFitting(fitting=name, shaft="S1", hub="H1", fitted_on=None)
        with pytest.raises(ReportError, match="no workbook can hold it; correct the name in the store"):
            follow_up_book(FollowUpForm(fittings=(asked,), wording=FOLLOW_UP.wording))
    book = load_workbook(io.BytesIO(measuring_book(replace(MEASURING, shaft=LONG))))
    assert book["readings"]["B3"].value == LONG


def test_a_terminal_obeys_no_name(capsys: pytest.CaptureFixture[str], small: Path, tmp_path: Path) -> None:
    said = "shaft \x1b]0;x\x07\x1b[2J\x9b31m\u202e1"
    print_sentences([said])
    print_note(said)
    print_table(DataTable(caption=said, head=(said,), rows=((said,),)))
    out, err = capsys.readouterr()
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", out + err)
    # nor a message about a cell of a file, nor one about a file's name
    file = tmp_path / "shafts \x1b[31m.csv"
    file.write_text("shaft,pattern,first_seen_on\nS9,D8,\x1b[2Jyesterday\n", encoding="utf-8")
    for arguments in (["add", str(file)], ["rejects"], ["rejects", "--json"]):
        ran = CliRunner().invoke(app, ["store", *arguments, "--store", str(small)])
        assert ran.exit_code in (0, 3), ran.output
        assert "yesterday" in ran.output
        assert "\x1b" not in ran.output


def test_a_pdf_takes_names_for_text(hostile: Page) -> None:
    pytest.importorskip("typst")
    from wearstats.report.page.pdf import page_pdf

    assert page_pdf(hostile).startswith(b"%PDF")
