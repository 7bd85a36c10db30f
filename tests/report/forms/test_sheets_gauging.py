"""Gauging sheets and labels: a workbook that comes back, a page a hub, paper, and what a label says."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.store.support.small_store import LATE, make_store, small_rows
from wearstats.errors import AnalysisError, UsageError
from wearstats.report.forms.form import GaugingForm
from wearstats.report.forms.gauging import gauging_pages, gauging_paper, label_page
from wearstats.report.forms.wording import read_wording
from wearstats.report.forms.workbooks import gauging_book
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.forms import label_hubs, sheet_hubs
from wearstats.studies.snapshot import Snapshot

WORDS = read_wording("en")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    rows = small_rows()
    rows["hubs"].append({"hub": "H3", "pattern": "D8", "undersize_um": "75"})
    with open_store(make_store(tmp_path / "bench.duckdb", rows), write=True) as opened:
        yield opened


def form(store: Store, *hubs: str) -> GaugingForm:
    return GaugingForm(hubs=sheet_hubs(Snapshot(store=store, known_on=LATE), hubs, None), wording=WORDS)


def test_a_filled_in_workbook_goes_into_the_store_and_blank_places_say_nothing(store: Store, tmp_path: Path) -> None:
    book = load_workbook(io.BytesIO(gauging_book(form(store, "H1", "H3"), ["G1"])))
    sheet = book["hub_spaces"]
    heads = [row[0].row for row in sheet.iter_rows(max_col=1) if row[0].value == "hub"]
    for name, text in {"gauged on:": "2026-05-01", "gauge:": "G1"}.items():
        (row,) = [cell.row for (cell,) in sheet.iter_rows(max_col=1) if cell.value == name]
        sheet.cell(row, 2, text)
    for space in range(8):
        # the second hub, as on the row of its first space
        sheet.cell(heads[0] + 9 + space, 3, "5.937")
        sheet.cell(heads[0] + 9 + space, 4, "5.933")
    book.save(tmp_path / "back.xlsx")
    report = add_files(store, [tmp_path / "back.xlsx"], added_on=LATE)
    assert report.kept_out == 0, report.to_dict()
    assert store.rows('select hub, "end", count(*), any_value(gauge) from hub_spaces group by 1, 2 order by 1, 2') == [
        ("H3", "mouth", 8, "G1"),
        ("H3", "nut-face", 8, "G1"),
    ]
    (hub,) = label_hubs(Snapshot(store=store, known_on=LATE), ["H3"], None)
    page = label_page((hub,), WORDS, paper="A4")
    told = re.sub(r"<[^>]+>|\s+", " ", page.partition("<body>")[2])
    for said in ("H3", "D8, undersize 0.075 mm", "spaces 5.9350 mm", "gauged 2026-05-01", "± 1.0 µm"):
        assert said in told
    assert "script" not in page.partition("<body>")[2]


def test_a_page_is_for_one_hub_and_says_what_it_was_to_be(store: Store) -> None:
    # numbers and their units stand together by blanks that do not break
    written = gauging_pages(form(store, "H1", "H3"))
    pages = {name: page.replace("\xa0", " ") for name, page in written.items()}
    assert list(pages) == ["gauging-H1.html", "gauging-H3.html"]
    assert "By its size its spaces were to be 5.935 mm." in pages["gauging-H3.html"]
    assert pages["gauging-H3.html"].count("<tr data-row=") == 8
    assert not re.search(r"(?:src|href)=", pages["gauging-H3.html"])


def test_paper_has_a_table_a_hub(store: Store) -> None:
    page = gauging_paper(form(store, "H1", "H3"), paper="letter").replace("\xa0", " ")
    assert page.count('class="readings"') == 2
    assert "undersize 0.075 mm: its spaces were to be 5.935 mm" in page
    assert "When hubs are handled" in page


def test_a_hub_that_was_on_a_shaft_since_has_no_label(store: Store) -> None:
    rows = "".join(f"H1,2026-01-02,{space},mouth,5.960\n" for space in range(1, 9))
    add_files(store, [], text=f"hub_spaces\nhub,gauged_on,space,end,width_mm\n{rows}", added_on=LATE)
    with pytest.raises(AnalysisError, match="hub H1: not gauged by space and end, or changed since"):
        label_hubs(Snapshot(store=store, known_on=LATE), ["H1"], None)


def test_hubs_or_a_batch_must_be_said(store: Store) -> None:
    snapshot = Snapshot(store=store, known_on=LATE)
    with pytest.raises(UsageError, match="--hub ID, once or several times, or --batch ID"):
        sheet_hubs(snapshot, [], None)
    assert [hub.hub for hub in sheet_hubs(snapshot, [], "B1")] == ["H1", "H2"]
