"""A report's files: the page alone, or a PDF, every chart as a picture and every table as a file beside it."""

import csv
import importlib.util
from pathlib import Path

import pytest

from tests.report.support.made_page import made_page
from wearstats.errors import ReportError
from wearstats.report.page.files import CHARTS, PAGE_NAME, PDF_NAME, TABLES, WantedFiles, write_report
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable, table_rows

HAS_PDF = importlib.util.find_spec("typst") is not None


def test_the_page_alone(tmp_path: Path) -> None:
    said = write_report(made_page(), tmp_path, WantedFiles())
    assert [path.name for path in tmp_path.iterdir()] == [PAGE_NAME]
    assert said == [f"The page: {tmp_path / PAGE_NAME}"]


def test_pictures_and_tables(tmp_path: Path) -> None:
    page = made_page()
    write_report(page, tmp_path, WantedFiles(png=True, csv=True))
    figures = [figure for section in page.sections for figure in section.figures]
    assert {path.stem for path in (tmp_path / CHARTS).iterdir()} >= {figure.name for figure in figures}
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in (tmp_path / CHARTS).iterdir())
    for path in (tmp_path / TABLES).iterdir():
        with path.open(encoding="utf-8", newline="") as opened:
            for row in csv.reader(opened):
                assert not any(cell.startswith(("=", "+", "@", "\t")) for cell in row)


def test_numbers_in_files_are_numbers_to_a_spreadsheet(tmp_path: Path) -> None:
    cells = ("\u2212124", "+7.6", "12\u202f300", "+0.7 to +17.8", "\u22120.6 to +16.1", "=1+1", "C++ 5")
    table = DataTable(caption="x", head=tuple("abcdefg"), rows=(cells,))
    path = write_rows(table_rows(table), tmp_path / "x.csv", sheet="x")
    with path.open(encoding="utf-8", newline="") as opened:
        told = list(csv.reader(opened))[1]
    assert told == ["-124", "7.6", "12300", "0.7 to 17.8", "\u22120.6 to 16.1", "'=1+1", "C++ 5"]


@pytest.mark.skipif(not HAS_PDF, reason="the extra for PDF is not installed")
def test_on_paper(tmp_path: Path) -> None:
    write_report(made_page(), tmp_path, WantedFiles(pdf=True))
    assert (tmp_path / PDF_NAME).read_bytes().startswith(b"%PDF")


@pytest.mark.skipif(HAS_PDF, reason="the extra for PDF is installed")
def test_without_the_extra_the_pdf_is_refused_before_anything_is_asked(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match=r"wearstats\[pdf\]"):
        WantedFiles(pdf=True).paths(tmp_path)


def test_what_will_be_written_is_known_beforehand(tmp_path: Path) -> None:
    paths = WantedFiles(png=True, csv=True).paths(tmp_path)
    assert [path.name for path in paths] == [PAGE_NAME, CHARTS, TABLES]
