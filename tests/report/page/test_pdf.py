"""The page on paper: what is handed to the typesetting, and that it can be set."""

from __future__ import annotations

import importlib.util
from dataclasses import replace

import pytest

from tests.report.support.made_page import made_page
from wearstats.report.page.pdf import harmless, page_content, page_pdf
from wearstats.report.rendering.tables import DataTable

HAS_PDF = importlib.util.find_spec("typst") is not None


def test_pictures_are_drawn_to_one_scale() -> None:
    shares = [figure["share"] for section in page_content(made_page())["sections"] for figure in section["figures"]]
    assert len(shares) == 2
    assert all(0.3 < share <= 1.0 for share in shares)
    assert shares[0] != shares[1]


def test_a_table_in_the_text_is_not_printed_again_behind_its_picture() -> None:
    page = made_page()
    first = page.sections[0]
    twice = replace(page, sections=(replace(first, tables=(first.figures[0].table,)), *page.sections[1:]))
    told = page_content(twice)["sections"]
    assert told[0]["figures"][0]["table"] is None
    assert told[1]["figures"][0]["table"] is not None


def test_cells_too_are_shown_as_they_can_be_and_kept_whole() -> None:
    table = DataTable(caption="5 mm", head=("hubs, in 100", "b\u202ec"), rows=(("95 % sure", "a\x07"),))
    page = made_page()
    content = page_content(replace(page, sections=(replace(page.sections[0], tables=(table,)),)))
    told = harmless(content)["sections"][0]["tables"][0]
    assert told == {
        "caption": "5\u00a0mm",
        "head": ["hubs, in\u00a0100", "b\ufffdc"],
        "rows": [["95\u00a0%\u00a0sure", "a\ufffd"]],
    }


@pytest.mark.skipif(not HAS_PDF, reason="the extra for PDF is not installed")
@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (12, 60), (3, 0)])
def test_tables_of_any_shape_can_be_set(columns: int, rows: int) -> None:
    words = "a long reason in many words that has to be broken into lines somewhere, for it is too wide"
    table = DataTable(
        caption="any", head=tuple(f"column number {at}" for at in range(columns)),
        rows=tuple(tuple(words if at == 1 else "1234.5" for at in range(columns)) for _ in range(rows)),
    )  # fmt: skip
    page = made_page()
    page = replace(page, sections=(replace(page.sections[0], tables=(table,)), *page.sections[1:]))
    assert page_pdf(page).startswith(b"%PDF")
